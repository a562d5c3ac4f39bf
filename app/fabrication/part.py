"""Parts: the flat pieces to cut."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.job.document import Seam
from geometry.contour import Contour, Region
from geometry.curve import Point
from geometry.findings import Finding
from geometry.outline import Outline


class Role(StrEnum):
    """What a part is in the sign."""

    BACKER = "backer"
    FACE = "face"
    RETAINER = "retainer"
    COUNTER_RETAINER = "counter retainer"
    SPLICE_PLATE = "splice plate"
    FILM = "film"
    PANEL = "panel"


@dataclass(frozen=True, slots=True)
class Drill:
    """A hole to be drilled; centre in the part's frame and diameter, mm."""

    centre: Point
    diameter: float


@dataclass(frozen=True, slots=True, eq=False)
class MarkText:
    """A word marked on a part, in the part's frame.

    Fields
    ------
    text : str
    strokes : tuple of Contour
        As it reads on the part.
    flipped : tuple of Contour
        The same for a part that is cut mirrored: in the same place, and mirrored with the part it reads again.
    """

    text: str
    strokes: tuple[Contour, ...]
    flipped: tuple[Contour, ...]


@dataclass(frozen=True, slots=True, eq=False)
class CutPart:
    """One flat part.

    Fields
    ------
    id : str
        Unique in the job: "line1-03-face".
    role : Role
    letter : str
        Letter id.
    name : str
        For people: "R face".
    material : str
        Material id.
    quantity : int
    region : Region
        Finished edges, lines and arcs only, mm; the part's own frame has the lower left of its bounds at (0, 0).
    origin : Point
        Where the part's own origin stands in the artwork's frame, mm (for drawing the letter assembled).
    rotations : tuple of float or None
        Allowed angles on the sheet; None means any.
    may_mirror : bool
    drills : tuple of Drill
    marks : tuple of Contour
        Lines to be marked, not cut, in the part's frame.
    texts : tuple of MarkText
        Words to be marked: the part's number, the numbers of its seams.
    """

    id: str
    role: Role
    letter: str
    name: str
    material: str
    quantity: int
    region: Region
    origin: Point
    rotations: tuple[float, ...] | None = None
    may_mirror: bool = False
    drills: tuple[Drill, ...] = ()
    marks: tuple[Contour, ...] = ()
    texts: tuple[MarkText, ...] = ()

    def marks_when(self, *, mirrored: bool) -> tuple[Contour, ...]:
        """All that is marked on the part when it is cut as it is or mirrored; part's frame, before it is mirrored."""
        words = (one.flipped if mirrored else one.strokes for one in self.texts)
        return (*self.marks, *(stroke for strokes in words for stroke in strokes))


@dataclass(frozen=True, slots=True)
class PartSeam:
    """A seam that divides a part of a letter.

    Fields
    ------
    letter : str
        Letter id.
    role : Role
        Of the part that is divided.
    seam : Seam
        From the lower left of the letter's bounds, mm: what an own seam of the job looks like.
    start, end : Point
        The same in the artwork's frame, mm.
    joint : str
        How the pieces meet, in words.
    reason : str
        Why here: what it crosses and what it keeps clear of.
    is_own : bool
        Chosen by the user, not found by the program.
    """

    letter: str
    role: Role
    seam: Seam
    start: Point
    end: Point
    joint: str
    reason: str
    is_own: bool


class Goods(StrEnum):
    """What a strip is cut from."""

    RETURN = "return coil"
    TRIM = "trim edge"
    FILM = "film"
    BACKING = "clear backing strip"


@dataclass(frozen=True, slots=True)
class Strip:
    """A length to cut from coil, roll or bar.

    Fields
    ------
    letter : str
        Letter id.
    name : str
        What it is in the letter: "return", "return of counter 1".
    goods : Goods
    width : float
        Of the strip, mm.
    length : float
        As fitted, mm.
    cut_length : float
        To cut, with lap and waste, mm.
    quantity : int
    joint : Point or None
        Where a closed loop is joined, artwork's frame, mm: a corner at the top, else the topmost point.
    weight_kg : float
        Of one; 0 where it is not reckoned.
    stock_length : float
        Of the coil it is cut from, mm; 0 where it is bought by length.
    thickness : float
        Of the coil, mm; 0 where it does not matter.
    stock_width : float
        Of film, the width of the roll that is of use, mm.
    shape : Outline or None
        Of film, what is cut: x along the roll, up the letter, y across it; None for a rectangle.
    """

    letter: str
    name: str
    goods: Goods
    width: float
    length: float
    cut_length: float
    quantity: int = 1
    joint: Point | None = None
    weight_kg: float = 0.0
    stock_length: float = 0.0
    thickness: float = 0.0
    stock_width: float = 0.0
    shape: Outline | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Fabrication:
    """All parts of a job, the seams that divide them, strip goods, and what the rules had to say."""

    parts: tuple[CutPart, ...]
    findings: tuple[Finding, ...]
    seams: tuple[PartSeam, ...] = ()
    strips: tuple[Strip, ...] = ()
