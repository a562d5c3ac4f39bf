"""DXF reader: blocks written out, loose ends chained, closed contours grouped into shapes."""

from __future__ import annotations

import itertools
import math
import re
import statistics
from collections import Counter
from pathlib import Path

from app.artwork import dxf_library
from app.artwork.checks import reach
from app.artwork.drawing import Drawing, Shape, Source
from app.artwork.dxf_model import Block, Contents, Drawn, Left, Placed, Words
from app.artwork.dxf_tags import NotTags, read_tags
from app.artwork.dxf_words import find_font, word_shapes
from app.artwork.file_units import INSUNITS
from app.artwork.hatches import standing_alone
from app.artwork.limits import DEFAULT_LIMITS, Budget, Limits
from app.artwork.line_art import Piece, gap_to_join, line_art
from app.artwork.notes import Code, Notes, counted
from app.artwork.options import DEFAULT_OPTIONS, ReadOptions
from app.artwork.strokes import Stroke, painted
from app.errors import DamagedFile, ReadError
from geometry.contour import Contour
from geometry.findings import Severity
from geometry.transform import IDENTITY, Affine, scaling, transform_contour, translation
from geometry.units import MM_PER

_LARGE = 2_000_000  # bytes; smaller files are parsed in a moment
_ENTITY = re.compile(rb"\n[ \t]*0[ \t]*\r?\n[ \t]*(?!VERTEX|SEQEND)[A-Z3]")
_POINT = re.compile(rb"\n[ \t]*10[ \t]*\r?\n")


def read_dxf(
    path: str,
    name: str,
    *,
    options: ReadOptions = DEFAULT_OPTIONS,
    limits: Limits = DEFAULT_LIMITS,
) -> Drawing:
    """Read a DXF drawing.

    ezdxf's strict reader is tried first; a file it refuses is read tag by tag, and where that finds nothing by ezdxf's
    recovery. A finding says so. All closed contours together bound material by even-odd containment, whatever layer
    they are on. A hatch bounds a shape where no line draws its edge.

    Parameters
    ----------
    path : str
        The file; ezdxf reads it itself.
    name : str
        What to call it in findings.
    options : ReadOptions

    Raises
    ------
    ReadError
        If it cannot be read; the message is one sentence.
    """
    notes = Notes(name)
    _refuse_crowds(path, name, limits)
    contents = _parsed(path, name, notes, limits, options.units)
    stated, mm = _units(contents, options.units, notes)
    expansion = _Expansion(contents, name, options, limits, notes)
    pieces, hatches = expansion.pieces(_near_origin(contents.model, mm, limits, notes))
    pieces = [*pieces, *standing_alone(hatches, pieces, notes)]
    shapes = [*line_art(pieces, name, notes, gap=gap_to_join(options, limits, stated, notes)), *expansion.characters]
    return Drawing(tuple(shapes), stated, tuple(contents.layers), None, notes.findings())


def _refuse_crowds(path: str, name: str, limits: Limits) -> None:
    """Count the entities of a large text file before the library takes its time over them."""
    data = Path(path).read_bytes()
    if len(data) < _LARGE or data.startswith(b"AutoCAD Binary DXF"):
        return
    count = sum(1 for _ in _ENTITY.finditer(data))
    if count > limits.elements:
        raise ReadError(
            f"{name} holds {count:,} entities, more than the limit of {limits.elements:,} in the settings; "
            "delete what is not to be cut"
        )
    points = sum(1 for _ in _POINT.finditer(data))
    if points > limits.segments:
        raise ReadError(
            f"{name} holds {points:,} points, more than the limit of {limits.segments:,} lines and curves in the "
            "settings; simplify it"
        )


def _parsed(path: str, name: str, notes: Notes, limits: Limits, units: str | None) -> Contents:
    def mm_per_unit(insunits: int | None) -> float:
        if units is not None:
            return MM_PER[units]
        return INSUNITS.get(insunits or 0, ("", 1.0))[1]

    try:
        return dxf_library.contents(dxf_library.load(path), notes, limits, mm_per_unit)
    except dxf_library.FAILURES as error:
        strict = _in_words(error)
    # The library's own recovery loses entities and turns numbers into others without a word, so it comes last.
    data = Path(path).read_bytes()
    if not data.startswith(b"AutoCAD Binary DXF"):
        try:
            contents, mended = read_tags(data, limits, MM_PER[units] if units else None)
        except NotTags:
            contents, mended = None, []
        if contents is not None and any(not isinstance(item, Left) for item in contents.model.items):
            detail = f"; {'; '.join(mended)}" if mended else ""
            notes.add(
                Code.RECOVERED,
                Severity.ERROR,
                f"the file is damaged ({strict}) and was read tag by tag{detail}: parts of it may be missing, "
                "compare it with the original drawing",
                fixed=True,
            )
            return contents
    try:
        document, said = dxf_library.load_damaged(path)
        recovered = dxf_library.contents(document, notes, limits, mm_per_unit)
    except dxf_library.FAILURES as error:
        raise DamagedFile(f"{name} is not a whole DXF file: {strict}; save it again as DXF") from error
    detail = f" ({counted(len(said), 'repair')})" if said else ""
    notes.add(
        Code.RECOVERED,
        Severity.ERROR,
        f"the file is damaged ({strict}) and was recovered{detail}; parts of it may be missing or misplaced: "
        "compare it with the original drawing",
        fixed=True,
    )
    return recovered


def _in_words(error: Exception) -> str:
    """What is wrong, in words of our own: the library's speak of its insides."""
    said = str(error).lower()
    line = re.search(r"\bline:? (\d+)", said)
    if line is not None:
        return f"line {int(line[1]):,} is not what a DXF has there"
    if "version" in said:
        return "its version is not known"
    if "eof" in said or "endsec" in said or "end of file" in said:
        return "it ends before its last section does"
    if isinstance(error, UnicodeError):
        return "its text is in no known encoding"
    return "its structure is broken"


def _units(contents: Contents, units: str | None, notes: Notes) -> tuple[str | None, float]:
    known = INSUNITS.get(contents.insunits or 0)
    system = {0: "inches", 1: "millimetres"}.get(contents.measurement if contents.measurement is not None else -1)
    if units is not None:
        if known is not None and known[0] != units:
            notes.add(Code.UNIT_OVERRIDDEN, Severity.NOTE, f"the file states {known[0]}; read as {units} as asked")
        return units, MM_PER[units]
    if known is None:
        hint = f" its drawing standard is set to {system}, which is often only a preset;" if system else ""
        notes.add(
            Code.UNIT_MISSING,
            Severity.WARNING,
            f"the file states no unit;{hint} set its size by a height or name the unit",
        )
        return None, 1.0
    is_metric = known[0] not in ("in", "ft", "yd", "mi", "mil", "microinch")
    if system is not None and is_metric != (contents.measurement == 1):
        notes.add(
            Code.UNIT_DOUBTFUL,
            Severity.WARNING,
            f"the file states {known[0]} but its drawing standard is {system}; read as {known[0]}: check the size",
        )
    return known


def _near_origin(model: Block, mm: float, limits: Limits, notes: Notes) -> Affine:
    """Map of the model to mm; a drawing that stands far out as a whole is moved to the origin."""
    places = [item.contours[0].segments[0].start for item in model.items if isinstance(item, Drawn)]
    places += [item.matrix.apply((0.0, 0.0)) for item in model.items if isinstance(item, Placed)]
    x, y = (mm * statistics.median(values) for values in zip(*places, strict=True)) if places else (0.0, 0.0)
    if max(abs(x), abs(y)) <= 0.1 * limits.coordinate:
        return scaling(mm)
    notes.add(
        Code.MOVED_NEAR,
        Severity.NOTE,
        f"the drawing stands {math.hypot(x, y) / 1e6:.4g} km from its origin; it was moved there",
        fixed=True,
    )
    return scaling(mm).then(translation(-x, -y))


class _Expansion:
    """Writes out block references, after counting what that would give."""

    def __init__(self, contents: Contents, name: str, options: ReadOptions, limits: Limits, notes: Notes) -> None:
        self.contents, self.name, self.limits, self.notes = contents, name, limits, notes
        self.wanted = wanted = options.layers
        self.font_folders, self.outline_strokes = options.font_folders, options.outline_strokes
        self.characters: list[Shape] = []
        self.shown = {layer.lower(): is_shown for layer, is_shown in contents.layers.items()}
        self.proper = {layer.lower(): layer for layer in contents.layers}
        self.hidden: Counter[str] = Counter()
        self.curves: list[Piece] = []
        self.hatches: list[Piece] = []
        self.fonts_missing: set[str] = set()
        self.budget = Budget(name, limits)
        if wanted is not None:
            for layer in wanted:
                if layer.lower() not in self.shown:
                    known = ", ".join(contents.layers) or "none"
                    raise ReadError(f"{name} has no layer '{layer}'; its layers are: {known}")

    def pieces(self, matrix: Affine) -> tuple[list[Piece], list[Piece]]:
        """Curves, and hatch outlines, in mm or the file's own numbers."""
        self.budget.spend_elements(self._count(self.contents.model, {}, []))
        self._expand(self.contents.model, matrix, "0", "")
        self.notes.stand_at(None)
        for layer, count in self.hidden.items():
            self.notes.add(
                Code.LAYER_SKIPPED,
                Severity.NOTE,
                f"layer '{layer}' not read ({counted(count, 'object')}): "
                + ("it was not asked for" if self.wanted is not None else "it is off or frozen in the file"),
            )
        return self.curves, self.hatches

    def _count(self, block: Block, known: dict[str, int], inside: list[str]) -> int:
        if len(inside) > self.limits.depth:
            raise ReadError(
                f"{self.name} nests blocks more than {self.limits.depth} deep; "
                "explode them in the drawing program, or raise the limit in the settings"
            )
        total = 0
        for item in block.items:
            if not isinstance(item, Placed):
                total += 1
                continue
            key = item.block.lower()
            if key in inside:
                raise DamagedFile(
                    f"{self.name} has a block '{item.block}' that contains itself; "
                    "correct the block in the drawing program and save again"
                )
            if key not in known:
                child = self.contents.blocks.get(key)
                known[key] = 0 if child is None else self._count(child, known, [*inside, key])
            total += item.columns * item.rows * max(1, known[key])
        return total

    def _layer(self, own: str, inherited: str) -> str:
        layer = inherited if own == "0" else own
        return self.proper.get(layer.lower(), layer)

    def _is_read(self, layer: str) -> bool:
        if self.wanted is not None:
            return any(layer.lower() == wanted.lower() for wanted in self.wanted)
        return self.shown.get(layer.lower(), True)

    def _expand(self, block: Block, matrix: Affine, inherited: str, block_name: str) -> None:
        for item in block.items:
            layer = self._layer(item.layer, inherited)
            if isinstance(item, Placed):
                self._place(item, matrix, layer, block_name)
                continue
            if not self._is_read(layer):
                self.hidden[layer] += 1
            elif isinstance(item, Left):
                self._leave(item, matrix)
            elif isinstance(item, Words):
                self._set(item, matrix, layer)
            else:
                self._draw(item, matrix, layer, block_name)

    def _place(self, item: Placed, matrix: Affine, layer: str, block_name: str) -> None:
        child = self.contents.blocks.get(item.block.lower())
        if child is None:
            where = matrix.apply(item.matrix.apply((0.0, 0.0)))
            self.notes.count(Code.MISSING_REFERENCE, f"block reference '{item.block}'", where=where)
            return
        from_base = translation(-child.base[0], -child.base[1]).then(item.matrix)
        for row, column in itertools.product(range(item.rows), range(item.columns)):
            step = translation(
                column * item.column_step[0] + row * item.row_step[0],
                column * item.column_step[1] + row * item.row_step[1],
            )
            name = block_name or ("" if child.name.startswith("*") else child.name)
            self._expand(child, from_base.then(step).then(matrix), layer, name)

    def _set(self, item: Words, matrix: Affine, layer: str) -> None:
        self.notes.stand_at(matrix.apply(item.matrix.apply((0.0, 0.0))))
        font = find_font(item.font, self.font_folders)
        if font is None:
            self.notes.count(Code.TEXT_NOT_OUTLINES, item.kind)
            if self.font_folders:
                said = f"the font '{item.font}' is not in the folders given"
                if said not in self.fonts_missing:
                    self.fonts_missing.add(said)
                    self.notes.add(Code.FONT_MISSING, Severity.ERROR, said)
            return
        try:
            shapes, is_too_wide = word_shapes(item, font, matrix, Source(self.name, layer), self.limits)
        except ReadError as error:
            self.notes.add(Code.FONT_MISSING, Severity.ERROR, str(error))
            self.notes.count(Code.TEXT_NOT_OUTLINES, item.kind)
            return
        contours = tuple(contour for shape in shapes for contour in shape.contours)
        self.budget.spend_segments(sum(len(contour.segments) for contour in contours))
        if not reach(contours) <= self.limits.coordinate:
            self.notes.count(Code.FAR_OUT_OBJECT, item.kind)
            return
        self.characters += shapes
        self.notes.count(Code.TEXT_OUTLINED, item.kind)
        if is_too_wide:
            self.notes.count(Code.TEXT_NOT_WRAPPED, item.kind)

    def _leave(self, item: Left, matrix: Affine) -> None:
        where = matrix.apply(item.where) if item.where is not None else None
        if item.code is Code.BAD_VALUE:
            self.notes.add(item.code, Severity.ERROR, f"{item.kind} not read: {item.message}", where=where)
        else:
            self.notes.count(item.code, item.kind, where=where)

    def _draw(self, item: Drawn, matrix: Affine, layer: str, block_name: str) -> None:
        self.notes.stand_at(matrix.apply(item.contours[0].segments[0].start))
        target = self.hatches if item.is_hatch else self.curves
        contours = self._stroked(item, matrix) if item.width else item.contours
        contours = contours if matrix == IDENTITY else tuple(transform_contour(c, matrix) for c in contours)
        if not reach(contours) <= self.limits.coordinate:  # nan answers no
            self.notes.add(
                Code.FAR_OUT,
                Severity.ERROR,
                f"{item.kind} not read: it reaches further than {self.limits.coordinate:g} from the origin",
            )
            return
        for contour in contours:
            self.budget.spend_segments(len(contour.segments))
            target.append(Piece(contour, layer, block_name))

    def _stroked(self, item: Drawn, matrix: Affine) -> tuple[Contour, ...]:
        """Outline of a polyline with a width when outlines of strokes are asked for; else its middle line."""
        what = "polyline with a width"
        if not self.outline_strokes or not item.width > 0.0 or not matrix.is_similarity:
            self.notes.count(Code.STROKE_AS_LINE, what)
            return item.contours
        # Its ends are square to the line and its corners mitred.
        outlined, said = painted(item.contours, None, Stroke(item.width))
        self.notes.extend(said)
        self.notes.count(Code.STROKE_OUTLINED, what)
        return outlined
