"""What a reader hands over: shapes with true curves, and everything it has to say about them."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.contour import Contour, FillRule, Region
from geometry.findings import Finding


@dataclass(frozen=True, slots=True)
class Source:
    """Where a shape came from: file name, layer, object id (or character in the text)."""

    file: str
    layer: str = ""
    object_id: str = ""


@dataclass(frozen=True, slots=True)
class Shape:
    """One object of the artwork. Coordinates as in `Drawing`.

    Fields
    ------
    contours : tuple of Contour
        Closed or not.
    rule : FillRule
    source : Source
    is_character : bool
        True for a character of a text, whose loose pieces (i, j, umlauts) make one letter.
    """

    contours: tuple[Contour, ...]
    rule: FillRule
    source: Source
    is_character: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    """A file as read, y up.

    Fields
    ------
    shapes : tuple of Shape
        In mm when `units` is known, else in the file's own numbers.
    units : str or None
        The unit the file states; None when it states none.
    layers : tuple of str
        All layers of the file, read or not.
    capital_height : float or None
        Height of a capital in the drawing's coordinates, where a font tells it.
    findings : tuple of Finding
    pages : int
        Pages of the file, of which one was read.
    """

    shapes: tuple[Shape, ...]
    units: str | None
    layers: tuple[str, ...] = ()
    capital_height: float | None = None
    findings: tuple[Finding, ...] = ()
    pages: int = 1


@dataclass(frozen=True, slots=True)
class Letter:
    """One closed shape of the artwork with its counters; an emblem is a letter too.

    Fields
    ------
    id : str
        Unique in the job, short, starts with the artwork's id: "line1-03".
    name : str
        For people: the character where known, else the object's id: "R".
    artwork : str
        Id of the artwork it belongs to.
    regions : tuple of Region
        True curves, mm, in the artwork's frame (lower left of the whole artwork at 0,0). One region, or several where
        the character has loose pieces (i, j, quotation marks, umlauts); each region gets its own parts.
    source : Source
    """

    id: str
    name: str
    artwork: str
    regions: tuple[Region, ...]
    source: Source


@dataclass(frozen=True, slots=True)
class FileFacts:
    """What a file leaves to be chosen, and how its numbers become mm.

    Fields
    ------
    units : str or None
        The unit its numbers are read in; None when neither file nor job names one.
    layers : tuple of str
        All layers of the file, read or not.
    pages : int
    number : float
        mm that 1 in the file's numbers comes to, as made.
    corner : tuple of float
        Lower left of the letters in the file's numbers, y up.
    """

    units: str | None
    layers: tuple[str, ...]
    pages: int
    number: float
    corner: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Lettering:
    """The letters of one artwork at their true size.

    Fields
    ------
    artwork : str
    letters : tuple of Letter
    width, height : float
        Overall size, mm.
    capital_height : float or None
        mm
    scale : float
        What the drawing's coordinates were multiplied by.
    findings : tuple of Finding
    file : FileFacts or None
        None for words in a font.
    left_out : tuple of Contour
        Open lines that bound no letter, in the letters' frame.
    """

    artwork: str
    letters: tuple[Letter, ...]
    width: float
    height: float
    capital_height: float | None
    scale: float
    findings: tuple[Finding, ...]
    file: FileFacts | None = None
    left_out: tuple[Contour, ...] = ()
