"""Limits of reading: how big, how deep, how far out a customer's file may be before it is refused."""

from __future__ import annotations

from dataclasses import dataclass

from app.errors import ReadError


@dataclass(frozen=True, slots=True)
class Limits:
    """Settings that bound what a file may ask for.

    Fields
    ------
    file_bytes : int
        Largest file, also after unpacking.
    seconds : float
        Longest time a file may take.
    memory_bytes : int
        Most memory the reading process may take beyond what it starts with.
    elements : int
        Most objects after every block, symbol and reference has been written out.
    segments : int
        Most lines, arcs and curves.
    depth : int
        Deepest nesting of blocks, references or forms.
    coordinate : float
        Furthest place from the origin, mm (the file's own numbers when it states no unit).
    join_gap : float
        Loose ends closer than this are joined, mm.
    characters : int
        Most characters of a text set in a font.
    """

    file_bytes: int = 200 * 1024 * 1024
    seconds: float = 60.0
    memory_bytes: int = 2 * 1024**3
    elements: int = 200_000
    segments: int = 2_000_000
    depth: int = 32
    coordinate: float = 1e7
    join_gap: float = 0.1
    characters: int = 5_000


DEFAULT_LIMITS = Limits()


class Budget:
    """Counts what one file has asked for so far and stops it at the limit."""

    def __init__(self, name: str, limits: Limits) -> None:
        self.name, self.limits = name, limits
        self.elements = 0
        self.segments = 0

    def spend_elements(self, count: int = 1) -> None:
        """Count objects.

        Raises
        ------
        ReadError
            Above `Limits.elements`.
        """
        self.elements += count
        if self.elements > self.limits.elements:
            raise ReadError(
                f"{self.name} holds more than {self.limits.elements:,} objects once its repeats are written out; "
                "delete what is not to be cut, or raise the limit in the settings"
            )

    def spend_segments(self, count: int) -> None:
        """Count lines, arcs and curves.

        Raises
        ------
        ReadError
            Above `Limits.segments`.
        """
        self.segments += count
        if self.segments > self.limits.segments:
            raise ReadError(
                f"{self.name} holds more than {self.limits.segments:,} lines and curves; "
                "simplify it, or raise the limit in the settings"
            )
