"""Limits of reading: how big, how deep, how far out a customer's file may be before it is refused."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

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
    raw_coordinate : float
        The same before a drawing that stands far out as a whole, as a site plan does, has been moved to the origin.
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
    raw_coordinate: float = 1e10
    join_gap: float = 0.1
    characters: int = 5_000


DEFAULT_LIMITS = Limits()

# Settings of the environment: variable, field, how much of the field's unit one is, least and most.
_SETTINGS: tuple[tuple[str, str, float, float, float], ...] = (
    ("LETTERBED_READ_SECONDS", "seconds", 1.0, 0.1, 86_400.0),
    ("LETTERBED_READ_MEMORY_MB", "memory_bytes", 1e6, 50.0, 1e6),
    ("LETTERBED_READ_FILE_MB", "file_bytes", 1e6, 0.001, 1e5),
    ("LETTERBED_READ_OBJECTS", "elements", 1.0, 1.0, 1e9),
    ("LETTERBED_READ_SEGMENTS", "segments", 1.0, 1.0, 1e9),
    ("LETTERBED_READ_DEPTH", "depth", 1.0, 1.0, 200.0),
    ("LETTERBED_READ_CHARACTERS", "characters", 1.0, 1.0, 1e6),
)


def limits_set(
    environment: Mapping[str, str] | None = None, *, seconds: float | None = None, memory_mb: float | None = None
) -> Limits:
    """The limits with what the settings say: variables of the environment such as ``LETTERBED_READ_SECONDS``.

    Parameters
    ----------
    environment : mapping, optional
        That of this process by default.
    seconds, memory_mb : float, optional
        Go before what the environment says.

    Raises
    ------
    ReadError
        If a setting is no number or outside its range.
    """
    given = os.environ if environment is None else environment
    own = {"LETTERBED_READ_SECONDS": seconds, "LETTERBED_READ_MEMORY_MB": memory_mb}
    limits = DEFAULT_LIMITS
    for variable, field, unit, least, most in _SETTINGS:
        value: str | float | None = own.get(variable)
        if value is None:
            value = given.get(variable)
        if value is None or value == "":
            continue
        try:
            number = float(value)
        except ValueError:
            number = math.nan
        if not least <= number <= most:  # nan answers no
            raise ReadError(f"the limit {variable} of '{value}' cannot be used; give {least:g} to {most:g}")
        changed: dict[str, Any] = {field: number if field == "seconds" else int(number * unit)}
        limits = replace(limits, **changed)
    return limits


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
            objects = "objects" if self.limits.elements > 1 else "object"
            raise ReadError(
                f"{self.name} holds more than {self.limits.elements:,} {objects} once its repeats are written out; "
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
