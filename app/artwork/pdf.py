"""PDF reader, and of artwork files that are PDF inside: pikepdf for the file, an own interpreter for the page."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pikepdf

from app.artwork.checks import closed_by_line, is_one_line, is_past
from app.artwork.drawing import Drawing, Shape, Source
from app.artwork.filled import Filled
from app.artwork.limits import DEFAULT_LIMITS, Budget, Limits
from app.artwork.line_art import Piece, gap_to_join, line_art
from app.artwork.notes import Code, Notes, counted
from app.artwork.options import DEFAULT_OPTIONS, ReadOptions
from app.artwork.pdf_content import Interpreter
from app.artwork.pdf_layers import Layers
from app.artwork.pdf_painted import Painted
from app.artwork.pdf_streams import check_unpacked_size
from app.artwork.strokes import Cap, Corner, Stroke
from app.artwork.strokes import painted as stroked
from app.errors import DamagedFile, ReadError
from geometry.contour import Contour, FillRule
from geometry.findings import Severity
from geometry.transform import Affine, rotation, scaling, translation
from geometry.units import MM_PER

_CAPS = {0: Cap.BUTT, 1: Cap.ROUND, 2: Cap.SQUARE}  # ISO 32000-1, tables 54 and 55
_CORNERS = {0: Corner.MITRE, 1: Corner.ROUND, 2: Corner.BEVEL}
_DEFAULT_BOX = (0.0, 0.0, 612.0, 792.0)  # for a page without a usable MediaBox
_PAGE_DEPTH = 64  # nested page tree nodes to look for inherited entries in
_NO_CONTENT = "without pdf content"  # what the notice says that stands in for the drawing in a file saved so


def read_pdf(
    data: bytes, name: str, *, options: ReadOptions = DEFAULT_OPTIONS, limits: Limits = DEFAULT_LIMITS
) -> Drawing:
    """Read one page of a PDF.

    Its unit is the point of 1/72 in, times the page's UserUnit. The lower left of the visible page is (0, 0); the
    page's rotation is applied. Layers are the file's optional content groups.

    Parameters
    ----------
    data : bytes
    name : str
        What to call it in findings.
    options : ReadOptions
    limits : Limits

    Raises
    ------
    ReadError
        If it cannot be read; the message is one sentence.
    """
    try:
        with pikepdf.open(BytesIO(data), suppress_warnings=True) as pdf:
            return _read(pdf, name, options, limits)
    except pikepdf.PasswordError as error:
        raise ReadError(f"{name} is protected by a password; ask for it without one") from error
    except (pikepdf.PdfError, AttributeError, KeyError, OverflowError, RuntimeError, TypeError, ValueError) as error:
        raise DamagedFile(f"{name} is not a whole PDF: {_in_words(error)}; save it again as PDF") from error


def _in_words(error: Exception) -> str:
    """What is wrong, in words of our own: the library's speak of its insides."""
    said = str(error).lower()
    if "trailer" in said or "xref" in said or "startxref" in said:
        return "the list of its objects is missing or broken, as in a file cut short"
    if "encrypt" in said or "security handler" in said:
        return "its encryption is broken or unknown"
    if "root" in said or "catalog" in said or "page" in said:
        return "its pages cannot be found"
    return "its objects are broken"


def _read(pdf: pikepdf.Pdf, name: str, options: ReadOptions, limits: Limits) -> Drawing:
    notes = Notes(name)
    count = len(pdf.pages)
    if count == 0:
        raise DamagedFile(f"{name} has no page; save it again as PDF")
    if not 1 <= options.page <= count:
        raise ReadError(f"{name} has no page {options.page}; its pages are 1 to {count}")
    if count > 1:
        notes.add(
            Code.PAGE_CHOSEN,
            Severity.WARNING if options.page == 1 else Severity.NOTE,
            f"page {options.page} of {count} was read; the others were not",
        )
    page = pdf.pages[options.page - 1]
    unit = MM_PER["pt"]
    if options.units is not None:
        unit = MM_PER[options.units]
        if options.units != "pt":
            notes.add(Code.UNIT_OVERRIDDEN, Severity.NOTE, f"the file's points were read as {options.units} as asked")
    scale = unit * _user_unit(page.obj, notes)
    box, matrix = _page_map(page.obj, scale, notes)
    layers = Layers(pdf.Root, options.layers)
    if options.layers is not None:
        for layer in options.layers:
            if layer not in layers.names:
                raise ReadError(f"{name} has no layer '{layer}'; its layers are: {', '.join(layers.names) or 'none'}")
    check_unpacked_size(page.obj.get("/Contents"), name, limits)
    width, height = scale * (box[2] - box[0]), scale * (box[3] - box[1])
    collector = _Collector(name, notes, width, height, outline_strokes=options.outline_strokes)
    interpreter = Interpreter(layers, collector.take, notes, Budget(name, limits), limits, options.font_folders)
    interpreter.run(page, _inherited(page.obj, "/Resources") or pikepdf.Dictionary(), matrix)
    notes.stand_at(None)
    if page.obj.get("/Annots"):
        notes.count(Code.NOT_GEOMETRY, "annotation", len(page.obj["/Annots"]))
    for layer, number in layers.skipped.items():
        why = "it was not asked for" if options.layers is not None else "it is hidden in the file"
        what = f"layer '{layer}'" if layer else "what is in no layer"
        notes.add(Code.LAYER_SKIPPED, Severity.NOTE, f"{what} not read ({counted(number, 'object')}): {why}")
    warnings = pdf.get_warnings()
    if warnings:
        notes.add(
            Code.RECOVERED,
            Severity.ERROR,
            f"the file is damaged and was recovered ({counted(len(warnings), 'repair')}); parts of it may be missing: "
            "compare it with the original drawing",
            fixed=True,
        )
    said = "".join(interpreter.words).lower()
    is_notice = all(shape.is_character for shape in collector.filled.shapes)
    if is_notice and _NO_CONTENT in said.replace("\u00a0", " "):
        raise ReadError(f"{name} was saved without its PDF part; save it again with PDF compatibility, or as PDF")
    gap = gap_to_join(options, limits, options.units or "pt", notes)
    shapes = [*collector.filled.finished(), *line_art(collector.lines, name, notes, gap=gap)]
    return Drawing(tuple(shapes), options.units or "pt", tuple(layers.names), None, notes.findings(), len(pdf.pages))


class _Collector:
    """Turns painted paths into shapes."""

    def __init__(self, name: str, notes: Notes, width: float, height: float, *, outline_strokes: bool) -> None:
        self.name, self.notes, self.width, self.height = name, notes, width, height
        self.outline_strokes = outline_strokes
        self.filled = Filled(notes, (width, height))
        self.lines: list[Piece] = []

    def take(self, painted: Painted) -> None:
        contours = painted.contours
        what = "character" if painted.character else "path"
        if painted.rule is not None:
            contours = self._closed(contours, what)
            if painted.is_stroked and not self.outline_strokes:
                self.notes.count(Code.STROKE_WIDTH_IGNORED, what)
        elif contours and not self.outline_strokes:
            self.notes.count(Code.STROKE_AS_LINE, what)
        if not contours:
            self.notes.count(Code.EMPTY_PIECE, what)
            return
        source = Source(self.name, painted.layer, painted.character)
        rule = painted.rule or FillRule.NONZERO
        if self.outline_strokes and painted.is_stroked:
            contours, rule = self._outlined(painted, contours, what)
        if is_past(contours, self.width, self.height):
            self.notes.count(Code.OFF_PAGE, what)
        if painted.rule is None and not self.outline_strokes:
            self.lines += [Piece(contour, painted.layer, "") for contour in contours]
            return
        shape = Shape(contours, rule, source, is_character=bool(painted.character))
        self.filled.add(shape, what, is_white=painted.is_white and not (self.outline_strokes and painted.is_stroked))

    def _outlined(self, one: Painted, contours: tuple[Contour, ...], what: str) -> tuple[tuple[Contour, ...], FillRule]:
        """What a stroked path paints; the path as it is where its stroke is dashed, a hairline or of uneven width."""
        width = one.pen.width * abs(one.matrix.determinant) ** 0.5
        if one.pen.is_dashed or not one.matrix.is_similarity or width <= 0.0:
            self.notes.count(Code.STROKE_NOT_OUTLINED, what)
            return contours, one.rule or FillRule.NONZERO
        pen = one.pen
        stroke = Stroke(width, _CAPS.get(pen.cap, Cap.BUTT), _CORNERS.get(pen.join, Corner.MITRE), max(1.0, pen.miter))
        outlined, said = stroked(contours, one.rule, stroke)
        self.notes.extend(said)
        self.notes.count(Code.STROKE_OUTLINED, what)
        return outlined, FillRule.NONZERO

    def _closed(self, contours: tuple[Contour, ...], what: str) -> tuple[Contour, ...]:
        out = []
        for contour in contours:
            if is_one_line(contour):
                continue
            if not contour.is_closed:
                self.notes.count(Code.CLOSED_BY_FILL, what)
            out.append(closed_by_line(contour))
        return tuple(out)


def _inherited(page: Any, key: str) -> Any:
    """Entry of a page, or of the page tree above it (7.7.3.4)."""
    node = page
    for _ in range(_PAGE_DEPTH):
        if not isinstance(node, pikepdf.Dictionary):
            return None
        if key in node:
            return node[key]
        node = node.get("/Parent")
    return None


def _user_unit(page: Any, notes: Notes) -> float:
    unit = page.get("/UserUnit")
    if unit is None:
        return 1.0
    value = float(unit)
    if not 0.0 < value <= 75_000.0:
        notes.add(Code.BAD_VALUE, Severity.WARNING, f"the page's unit of {value:g} points is not possible; read as 1")
        return 1.0
    return value


def _page_map(page: Any, scale: float, notes: Notes) -> tuple[tuple[float, float, float, float], Affine]:
    """Visible box as it stands upright, and the map from user space to mm."""
    box = _box(_inherited(page, "/CropBox")) or _box(_inherited(page, "/MediaBox"))
    media = _box(_inherited(page, "/MediaBox"))
    if box is None:
        box = _DEFAULT_BOX
        notes.add(Code.BAD_VALUE, Severity.WARNING, "the page has no usable size; read as 8 1/2 x 11 in")
    elif media is not None:
        cut = (max(box[0], media[0]), max(box[1], media[1]), min(box[2], media[2]), min(box[3], media[3]))
        box = cut if cut[0] < cut[2] and cut[1] < cut[3] else media
    turn = _inherited(page, "/Rotate")
    quarters = round(float(turn) / 90.0) % 4 if turn is not None else 0
    width, height = box[2] - box[0], box[3] - box[1]
    to_origin = translation(-box[0], -box[1]).then(rotation(-90.0 * quarters))
    back = {0: (0.0, 0.0), 1: (0.0, width), 2: (width, height), 3: (height, 0.0)}[quarters]
    upright = (0.0, 0.0, height, width) if quarters % 2 else (0.0, 0.0, width, height)
    return upright, to_origin.then(translation(*back)).then(scaling(scale))


def _box(value: Any) -> tuple[float, float, float, float] | None:
    if not isinstance(value, pikepdf.Array) or len(value) != 4:
        return None
    x0, y0, x1, y1 = (float(number) for number in value)
    box = (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
    is_usable = box[2] - box[0] > 0.0 and box[3] - box[1] > 0.0 and max(map(abs, box)) <= 1e7
    return box if is_usable else None
