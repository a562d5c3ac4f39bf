"""Choices of how a file is read."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """What the user may choose when a file leaves it open.

    Fields
    ------
    units : str or None
        Unit of the file's numbers ("in", "mm", "cm", "m", "ft", "yd", "px", "pt", "pc"), against what the file states.
    layers : tuple of str or None
        Layers to read, hidden or not; all visible ones when None.
    page : int
        Page of a document with several, from 1.
    outline_strokes : bool
        True turns strokes into the outline they paint; False takes their middle as the line to cut.
    join_overlaps : bool
        True makes overlapping shapes one.
    join_gap : float or None
        Loose ends closer than this are joined, mm; None takes the usual gap, `Limits.join_gap`.
    font_folders : tuple of str
        Where fonts for text in a DXF, or for text of a PDF that does not bring its font, may be found.
    """

    units: str | None = None
    layers: tuple[str, ...] | None = None
    page: int = 1
    outline_strokes: bool = False
    join_overlaps: bool = False
    join_gap: float | None = None
    font_folders: tuple[str, ...] = ()


DEFAULT_OPTIONS = ReadOptions()
