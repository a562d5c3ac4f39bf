"""What a reader has to say: finding codes, and a notebook that counts what repeats."""

from __future__ import annotations

from collections import Counter
from enum import StrEnum

from geometry.curve import Point
from geometry.findings import Finding, Severity

_FURTHEST = 1e9  # a place beyond it is none that could be shown
LISTED_PLACES = 12  # places of one code told one by one; the rest is told as a count


class Code(StrEnum):
    """Codes of the findings of reading and lettering."""

    TEXT_NOT_OUTLINES = "text-not-outlines"
    TEXT_OUTLINED = "text-outlined"
    TEXT_NOT_WRAPPED = "text-not-wrapped"
    NOT_GEOMETRY = "not-geometry"
    MARKER_LEFT = "marker-left"
    NOT_FLAT = "not-flat"
    TO_EXPLODE = "to-explode"
    MOVED_NEAR = "moved-near"
    CLIP_IGNORED = "clip-ignored"
    MASK_IGNORED = "mask-ignored"
    OFF_PAGE = "off-page"
    EFFECT_IGNORED = "effect-ignored"
    STROKE_AS_LINE = "stroke-as-line"
    STROKE_OUTLINED = "stroke-outlined"
    STROKE_NOT_OUTLINED = "stroke-not-outlined"
    STROKE_WIDTH_IGNORED = "stroke-width-ignored"
    CLOSED_BY_FILL = "closed-by-fill"
    NOT_VISIBLE = "not-visible"
    LAYER_SKIPPED = "layer-skipped"
    OUTSIDE_REFERENCE = "outside-reference"
    MISSING_REFERENCE = "missing-reference"
    BAD_VALUE = "bad-value"
    FAR_OUT = "far-out"
    FAR_OUT_OBJECT = "far-out-object"
    BAD_OPERATOR = "bad-operator"
    PAGE_CHOSEN = "page-chosen"
    BACKGROUND = "background"
    COVERED = "covered"
    WHITE_FILL = "white-fill"
    EMPTY_PIECE = "empty-piece"
    DUPLICATE = "duplicate"
    OVERLAPPING = "overlapping-pieces"
    JOINED = "joined"
    JUNCTION = "junction"
    HATCH_USED = "hatch-used"
    HATCH_ALONE = "hatch-alone"
    HATCH_IN_PART = "hatch-in-part"
    CURVE_FITTED = "curve-fitted"
    RECOVERED = "recovered"
    PAPER_SPACE = "paper-space"
    UNIT_ASSUMED = "unit-assumed"
    UNIT_MISSING = "unit-missing"
    UNIT_OVERRIDDEN = "unit-overridden"
    UNIT_DOUBTFUL = "unit-doubtful"
    SHAPES_UNITED = "shapes-united"
    ROUND = "round-again"
    STRAY = "stray"
    SPECKS = "specks"
    FONT_MISSING = "font-missing"
    FONT_REPLACED = "font-replaced"
    MISSING_GLYPH = "missing-glyph"
    SIZE_DOUBTFUL = "size-doubtful"
    MEASURED_ON = "measured-on"
    READS_OTHERWISE = "reads-otherwise"
    LETTERS_OVERLAP = "letters-overlap"


# Findings that are counted by kind: severity, and the sentence around the list of kinds.
_COUNTED: dict[Code, tuple[Severity, str]] = {
    Code.TEXT_NOT_OUTLINES: (
        Severity.ERROR,
        "{what} not read: text is not outlines; convert it to curves in the drawing program and save again",
    ),
    Code.TEXT_OUTLINED: (Severity.WARNING, "{what} turned into outlines of its font; check each character"),
    Code.TEXT_NOT_WRAPPED: (
        Severity.WARNING,
        "{what} read with longer lines than its column holds: the drawing program breaks them; put line breaks in it",
    ),
    Code.MARKER_LEFT: (
        Severity.WARNING,
        "{what} not read: arrowheads and other markers belong to their line; make them paths in the drawing program",
    ),
    Code.NOT_GEOMETRY: (Severity.WARNING, "{what} not read: nothing in it can be cut"),
    Code.NOT_FLAT: (Severity.WARNING, "{what} not read: it does not lie flat in the drawing plane"),
    Code.TO_EXPLODE: (
        Severity.ERROR,
        "{what} not read: not made of plain lines and arcs; explode it in the drawing program and save again",
    ),
    Code.CLIP_IGNORED: (
        Severity.WARNING,
        "{what} read whole though a clip path hides part of it; trim it in the drawing",
    ),
    Code.MASK_IGNORED: (Severity.WARNING, "{what} read whole though a mask hides part of it; trim it in the drawing"),
    Code.OFF_PAGE: (
        Severity.WARNING,
        "{what} read whole though past the edge of the page, where viewers hide it; trim it in the drawing",
    ),
    Code.EFFECT_IGNORED: (Severity.NOTE, "{what} read by the outline alone; shadings and effects cannot be cut"),
    Code.STROKE_AS_LINE: (
        Severity.WARNING,
        "{what} read along the middle of the stroke, without the stroke's width; outline strokes if the width is meant",
    ),
    Code.STROKE_OUTLINED: (Severity.NOTE, "{what} turned into the outline of the stroke"),
    Code.STROKE_NOT_OUTLINED: (
        Severity.WARNING,
        "{what} read without the stroke's width though outlines were asked for: it is dashed, a hairline or not "
        "equally wide everywhere; outline it in the drawing program",
    ),
    Code.HATCH_ALONE: (
        Severity.WARNING,
        "{what} read as shapes to cut, since no line draws the same edge; delete the hatch if it is only shading",
    ),
    Code.HATCH_IN_PART: (
        Severity.WARNING,
        "{what} not read: lines draw a part of the same edge; draw the whole edge if it bounds a letter",
    ),
    Code.STROKE_WIDTH_IGNORED: (
        Severity.NOTE,
        "{what} read by its fill; half of the stroke's width stands outside that outline and is not cut",
    ),
    Code.CLOSED_BY_FILL: (Severity.NOTE, "{what} closed by a straight line between its ends, as its fill shows it"),
    Code.NOT_VISIBLE: (Severity.NOTE, "{what} not read: not visible in the file"),
    Code.OUTSIDE_REFERENCE: (
        Severity.ERROR,
        "{what} not read: it points outside the file, and no other file is opened",
    ),
    Code.MISSING_REFERENCE: (Severity.ERROR, "{what} not read: it names something that is not in the file"),
    Code.EMPTY_PIECE: (Severity.NOTE, "{what} dropped: no length"),
    Code.DUPLICATE: (Severity.WARNING, "{what} dropped: drawn twice in the same place"),
    Code.OVERLAPPING: (Severity.WARNING, "{what} drawn over others in part; each stretch was kept once"),
    Code.FAR_OUT_OBJECT: (Severity.ERROR, "{what} not read: further from the origin than the limit in the settings"),
    Code.BAD_OPERATOR: (Severity.ERROR, "{what} not understood and left out; compare with the original drawing"),
    Code.BACKGROUND: (Severity.NOTE, "{what} not read: white and as large as the page"),
    Code.COVERED: (
        Severity.WARNING,
        "{what} read though a white box as large as the page hides them in viewers; delete what is not wanted",
    ),
    Code.WHITE_FILL: (
        Severity.WARNING,
        "{what} filled white read as letters like all others; where white stands for an opening, subtract it from the "
        "shape below in the drawing program",
    ),
    Code.ROUND: (Severity.NOTE, "{what} of the file recognised as circular arcs"),
    Code.CURVE_FITTED: (Severity.NOTE, "{what} replaced by cubic curves within 0.0001 of the drawing's unit"),
}


_LEFT_OUT = (
    Code.TEXT_NOT_OUTLINES,
    Code.NOT_GEOMETRY,
    Code.NOT_FLAT,
    Code.TO_EXPLODE,
    Code.NOT_VISIBLE,
    Code.BAD_VALUE,
)


class Notes:
    """Notebook of one reading: findings in the order they arose, counted ones at the end."""

    def __init__(self, subject: str) -> None:
        self.subject = subject
        self._findings: list[Finding] = []
        self._counts: dict[Code, Counter[str]] = {}
        self._places: dict[Code, Point] = {}
        self._listed: Counter[Code] = Counter()
        self._here: Point | None = None

    def add(
        self, code: Code, severity: Severity, message: str, *, where: Point | None = None, fixed: bool = False
    ) -> None:
        """Say one thing; beyond a dozen places of the same code only the number of the rest is told."""
        self._listed[code] += 1
        if self._listed[code] <= LISTED_PLACES:
            self._findings.append(Finding(code, severity, message, where, fixed, self.subject))

    def stand_at(self, place: Point | None) -> None:
        """Where the reader is now, in the drawing's coordinates: the place of what is counted from here on."""
        self._here = place

    def count(self, code: Code, what: str, number: int = 1, *, where: Point | None = None) -> None:
        """Count something that is said once for all, by kind (`what`, singular), with the first place it is met at."""
        self._counts.setdefault(code, Counter())[what] += number
        place = where if where is not None else self._here
        if place is not None and max(map(abs, place)) <= _FURTHEST:  # nan answers no
            self._places.setdefault(code, place)

    def extend(self, findings: tuple[Finding, ...] | list[Finding]) -> None:
        """Take over findings of another room."""
        self._findings.extend(findings)

    def summary(self) -> str:
        """What was left out, in a few words, for an error that ends the reading: "3 texts, 1 image"; may be empty."""
        kinds: Counter[str] = Counter()
        for code in (
            Code.TEXT_NOT_OUTLINES,
            Code.NOT_GEOMETRY,
            Code.NOT_FLAT,
            Code.TO_EXPLODE,
            Code.NOT_VISIBLE,
            Code.BAD_VALUE,
        ):
            kinds.update(self._counts.get(code, {}))
        return listing(kinds)

    def findings(self) -> tuple[Finding, ...]:
        """Everything said so far."""
        out = list(self._findings)
        for code, listed in self._listed.items():
            if listed > LISTED_PLACES:
                more = listed - LISTED_PLACES
                last = [finding for finding in self._findings if finding.code == code][-1]
                message = f"{more:,} more like this one: {last.message}"
                out.append(Finding(code, last.severity, message, None, False, self.subject))
        for code, kinds in self._counts.items():
            severity, sentence = _COUNTED[code]
            message = sentence.format(what=listing(kinds))
            fixed = code in (Code.DUPLICATE, Code.OVERLAPPING, Code.EMPTY_PIECE, Code.CLOSED_BY_FILL)
            out.append(Finding(code, severity, message, self._places.get(code), fixed, self.subject))
        return tuple(out)


def listing(kinds: Counter[str]) -> str:
    """Counted kinds in words.

    Examples
    --------
    >>> listing(Counter({"text": 2, "image": 1}))
    '2 texts, 1 image'
    """
    return ", ".join(counted(number, what) for what, number in sorted(kinds.items()))


def counted(number: int, what: str) -> str:
    """A number of things, in words: "1 letter", "2 letters"."""
    return f"{number:,} {_plural(what, number)}"


def _plural(what: str, number: int) -> str:
    if number == 1 or what.isupper():
        return what
    if what.endswith("y") and what[-2:-1] not in "aeiou":
        return what[:-1] + "ies"
    return what + ("es" if what.endswith(("s", "x", "ch", "sh")) else "s")
