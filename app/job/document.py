"""The job: what the user edits and saves. Frozen; an edit is a plain function from job to job (`app.job.edits`)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from app.job.cutting import USUAL, Cutting
from app.job.kept import KeptPlan
from app.stock.book import Cutter, Material, StockSheet


class DisplayUnits(StrEnum):
    """How lengths are shown to people; inside, everything is mm."""

    INCHES = "in"
    MILLIMETRES = "mm"


class ScaleBy(StrEnum):
    """What the artwork's size is set by."""

    AS_DRAWN = "as drawn"
    CAPITAL_HEIGHT = "capital height"
    OVERALL_WIDTH = "overall width"
    OVERALL_HEIGHT = "overall height"
    KNOWN_DIMENSION = "known dimension"


@dataclass(frozen=True, slots=True)
class Scale:
    """Size of an artwork: as drawn, or such that one measure is `length` mm.

    Fields
    ------
    by : ScaleBy
    length : float or None
        mm; None when as drawn.
    start, end : tuple of float or None
        Of a known dimension, the two points it is measured between, in the file's own numbers and unit.
    """

    by: ScaleBy = ScaleBy.AS_DRAWN
    length: float | None = None
    start: tuple[float, float] | None = None
    end: tuple[float, float] | None = None


class Align(StrEnum):
    """How lines of text stand to each other."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Text:
    """Words set in a font file.

    Fields
    ------
    words : str
        Lines parted by newlines.
    font : str
        Path of the TTF or OTF file, relative to the job file's folder unless absolute.
    tracking : float
        Extra space between letters, thousandths of the em.
    line_spacing : float
        Multiple of the font's own line height.
    align : Align
    axes : tuple of (tag, value)
        Axes of a variable font, such as ("wght", 700.0); the others stay at the font's defaults.
    """

    words: str
    font: str
    tracking: float = 0.0
    line_spacing: float = 1.0
    align: Align = Align.LEFT
    axes: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Artwork:
    """One piece of artwork in the job: a file or words in a font (exactly one of the two).

    Fields
    ------
    id, name : str
    file : str or None
        Path relative to the job file's folder unless absolute.
    text : Text or None
    scale : Scale
    units : str or None
        Unit of the file's numbers ("in", "mm", "cm", "ft", "px", "pt", "m") when the file does not say or is wrong.
    layers : tuple of str or None
        Layers to read; None means all visible ones.
    build : str
        Id of the build its letters get.
    sets : int
        How many of the whole artwork are made.
    page : int
        Page of a document with several, from 1.
    outline_strokes : bool
        True reads strokes as the outline they paint; False takes their middle as the line to cut.
    join_overlaps : bool
        True makes overlapping shapes one.
    join_gap : float or None
        Loose ends of bare lines closer than this are joined, mm; None takes the usual gap.
    font_folders : tuple of str
        Where fonts for the text of a DXF are found, relative to the job file's folder unless absolute.
    reads : str
        What the letters of a file say, one character for each in reading order, blanks left out: their names. Empty
        leaves them the names the file gives.
    letter_builds : tuple of (letter id, build id)
        Letters made by another build than the artwork's.
    """

    id: str
    name: str
    build: str
    file: str | None = None
    text: Text | None = None
    scale: Scale = Scale()
    units: str | None = None
    layers: tuple[str, ...] | None = None
    sets: int = 1
    page: int = 1
    outline_strokes: bool = False
    join_overlaps: bool = False
    join_gap: float | None = None
    font_folders: tuple[str, ...] = ()
    reads: str = ""
    letter_builds: tuple[tuple[str, str], ...] = ()

    def build_of(self, letter: str) -> str:
        """Id of the build of one of its letters."""
        return dict(self.letter_builds).get(letter, self.build)


@dataclass(frozen=True, slots=True)
class Build:
    """How letters are fabricated: a kind with a material per role, and the settings that differ from the defaults.

    Fields
    ------
    id, name : str
    kind : str
        Name of a kind in `app.job.kinds`, for example "face-lit with retainer".
    materials : tuple of (role, material id)
    settings : tuple of (setting name, value)
        Values in mm unless the setting says otherwise; names and defaults in `app.job.settings`.
    """

    id: str
    name: str
    kind: str
    materials: tuple[tuple[str, str], ...]
    settings: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Seam:
    """A straight seam from one point to another, mm. It divides what it runs right through."""

    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True, slots=True)
class LetterSeams:
    """Seams the user chose for one sort of part of one letter, instead of those the program would find.

    Fields
    ------
    letter : str
        Letter id.
    part : str
        Role of the part: "backer", "face", "retainer".
    seams : tuple of Seam
        In the order they are cut; points from the lower left of the letter's bounds. None at all leaves the part whole.
    """

    letter: str
    part: str
    seams: tuple[Seam, ...]


@dataclass(frozen=True, slots=True)
class Job:
    """Everything the user decided.

    Fields
    ------
    name : str
    units : DisplayUnits
    currency : str
        ISO 4217 code of the prices.
    artwork, builds, materials, cutters, stock : tuples, ids unique in each
    seams : tuple of LetterSeams
        Own seams, at most one entry for a letter and role; all other seams are found by the program.
    may_nest_in_holes : bool
    cutting : Cutting
        How the sheets are cut.
    seconds : float
        Time to plan for, per job.
    seed : int
    notes : str
    folder : str
        Where relative paths start; the job file's folder, not saved in it.
    plan : KeptPlan or None
        The layouts as they stand, with what was moved or locked by hand; None when nothing is planned.
    """

    name: str
    artwork: tuple[Artwork, ...]
    builds: tuple[Build, ...]
    materials: tuple[Material, ...]
    cutters: tuple[Cutter, ...]
    stock: tuple[StockSheet, ...]
    units: DisplayUnits = DisplayUnits.INCHES
    currency: str = "USD"
    may_nest_in_holes: bool = True
    seconds: float = 10.0
    seed: int = 0
    seams: tuple[LetterSeams, ...] = ()
    notes: str = ""
    folder: str = ""
    cutting: Cutting = USUAL
    plan: KeptPlan | None = None
