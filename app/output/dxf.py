"""Cut files: one DXF (R2010) per sheet, lines and arcs only, one layer per kind of work.

Format facts are those of the published DXF reference: $INSUNITS 1 is inches and 4 millimetres, an LWPOLYLINE holds
points and bulges (tangent of a quarter of the arc's angle, negative when clockwise).
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ezdxf import units as dxf_units
from ezdxf.colors import rgb2int
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new as new_document

from app.cutting.operations import Operation, Work
from app.errors import ExportError
from app.job.document import DisplayUnits, Job
from app.output.cut_sheet import CutSheet, Piece
from app.output.label_place import place_label
from app.output.words import CAUTION, one_line, thickness_text
from app.stock.book import StockSheet
from geometry.build import polygon, rectangle
from geometry.contour import Contour, Region
from geometry.curve import Arc, Cubic, Point
from geometry.offset import offset_region
from geometry.units import MM_PER, format_length

VERSION: Final = "R2010"


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of the cut file: colour as 24-bit red, green, blue and as the nearest of the 255 numbered ones."""

    name: str
    rgb: tuple[int, int, int]
    number: int
    line_type: str = "CONTINUOUS"


LAYERS: Final = (
    Layer("STOCK", (125, 125, 125), 8),
    Layer("KEEPOUT", (139, 72, 25), 34, "DASHED"),
    Layer("OUTSIDE", (57, 92, 233), 160),
    Layer("INSIDE", (218, 106, 171), 241),
    Layer("DRILL", (20, 184, 143), 122),
    Layer("MARK", (245, 167, 57), 40),
    Layer("NOTE", (178, 207, 236), 9),
    Layer("OFFCUT", (238, 230, 138), 41, "DASHDOT"),
)
"""Lightness (CIE L*) rises by 7 or more from one colour to the next, so that they stay apart in grey, and hues lie on
the blue to yellow axis as far as eight can, so that they stay apart for colour-blind eyes."""

_LAYER_OF: Final = {
    Work.DRILL: "DRILL",
    Work.MARK: "MARK",
    Work.INSIDE: "INSIDE",
    Work.OUTSIDE: "OUTSIDE",
    Work.OFFCUT: "OFFCUT",
}
_PART_TEXT_HEIGHTS: Final = (20.0, 15.0, 12.0, 9.0, 6.0, 4.0, 3.0)  # mm, largest first
_WIDTH_PER_HEIGHT: Final = 1.0
"""Width of a character in text heights: more than any plain drawing font needs."""
_LEAST_LINE: Final = 40  # characters
_DASH_LENGTHENING: Final = 100.0
"""The dashes of the line types are half a unit long; times this they are 50 mm, to be seen on a whole sheet."""


def write_dxf(cut: CutSheet, job: Job, path: Path, *, sheet_count: int) -> None:
    """Write the cut file of one sheet, in the job's units; edges in cutting order.

    Text stands on the NOTE layer only: part names in the parts, everything else above the sheet's upper edge, so that
    the drawing's lower left corner is the sheet's, at 0,0.

    Raises
    ------
    ExportError
        When a part has an edge that is neither line nor arc.
    """
    sheet = cut.planned
    scale = 1.0 / MM_PER[job.units.value]
    document: Any = new_document(VERSION, setup=["linetypes"], units=_units(job.units))
    for layer in LAYERS:
        document.layers.add(layer.name, color=layer.number, true_color=rgb2int(layer.rgb), linetype=layer.line_type)
    pen = _Pen(document.modelspace(), scale)

    pen.contour("STOCK", polygon(sheet.stock.edge), sheet.stock.name)
    for zone in keep_out_contours(sheet.stock, sheet.margin):
        pen.contour("KEEPOUT", zone, sheet.stock.name)
    for operation in cut.operations:
        pen.operation(operation)
    for piece in cut.pieces:
        pen.piece(piece)
    top = pen.block(_notes(cut, job, sheet_count), sheet.stock)

    width = sheet.stock.width * scale
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (0.0, 0.0, 0.0), (width, top, 0.0)
    document.header["$LUNITS"] = 2  # decimal
    document.header["$LTSCALE"] = _DASH_LENGTHENING * scale
    pen.space.reset_extents((0.0, 0.0, 0.0), (width, top, 0.0))
    pen.space.reset_limits((0.0, 0.0), (width, top))
    document.set_modelspace_vport(height=top * 1.05, center=(width / 2, top / 2))
    document.saveas(path)


def keep_out_contours(stock: StockSheet, margin: float) -> tuple[Contour, ...]:
    """The margin's inner edge and the clamp zones, mm."""
    zones = [rectangle(zone.width, zone.height, at=(zone.x, zone.y)) for zone in stock.keep_outs]
    if stock.outline is not None:
        inner = offset_region(Region(polygon(stock.outline)), -margin) if margin > 0 else ()
        return (*(region.outer for region in inner), *zones)
    width, height = stock.width - 2 * margin, stock.height - 2 * margin
    if margin > 0 and min(width, height) > 0:
        zones.insert(0, rectangle(width, height, at=(margin, margin)))
    return tuple(zones)


class _Pen:
    """Draws mm into a model space of the file's units."""

    def __init__(self, space: Any, scale: float) -> None:
        self.space = space
        self._scale = scale

    def operation(self, operation: Operation) -> None:
        layer = _LAYER_OF[operation.work]
        if operation.work is Work.DRILL:
            radius = math.dist(operation.contour.segments[0].start, operation.begin)
            self.space.add_circle(self._at(operation.begin), radius * self._scale, dxfattribs={"layer": layer})
            return
        self.contour(layer, operation.contour, operation.part)

    def contour(self, layer: str, contour: Contour, owner: str) -> None:
        points = []
        for segment in contour.segments:
            if isinstance(segment, Cubic):
                raise ExportError(
                    f"'{owner}' has an edge near ({segment.start[0]:.1f}, {segment.start[1]:.1f}) mm that is neither "
                    "line nor arc, which a cut file cannot hold; fit arcs to it first"
                )
            points.append((*self._at(segment.start), segment.bulge if isinstance(segment, Arc) else 0.0))
        if not contour.is_closed:
            points.append((*self._at(contour.segments[-1].end), 0.0))
        self.space.add_lwpolyline(points, format="xyb", close=contour.is_closed, dxfattribs={"layer": layer})

    def piece(self, piece: Piece) -> None:
        text = one_line(f"{piece.number}: {piece.part.id} copy {piece.copy + 1}")
        widths = [len(text) * height * _WIDTH_PER_HEIGHT for height in _PART_TEXT_HEIGHTS]
        place = place_label(piece.label_ground, piece.label_points, heights=_PART_TEXT_HEIGHTS, widths=widths)
        self.text(text, place.middle, place.height, angle=place.angle, centred=True)

    def text(self, text: str, at: Point, height: float, *, angle: float = 0.0, centred: bool = False) -> None:
        # A caret and a pair of percent signs are codes in DXF text.
        plain = text.replace("^", "^ ").replace("%%", "% %")
        entity = self.space.add_text(plain, height=height * self._scale, rotation=angle, dxfattribs={"layer": "NOTE"})
        align = TextEntityAlignment.MIDDLE_CENTER if centred else TextEntityAlignment.LEFT
        entity.set_placement(self._at(at), align=align)

    def block(self, lines: Sequence[str], stock: StockSheet) -> float:
        """Lines of text above the sheet; answers the drawing's top in the file's units."""
        height = min(max(stock.width / 90, 4.0), 16.0)
        line_length = max(int(stock.width / (height * _WIDTH_PER_HEIGHT)), _LEAST_LINE)
        wrapped = [piece for line in lines for piece in (textwrap.wrap(line, line_length) or [""])]
        pitch = 1.6 * height
        for index, line in enumerate(reversed(wrapped)):
            if line:
                self.text(line, (0.0, stock.height + pitch * (index + 1)), height)
        return (stock.height + pitch * (len(wrapped) + 1)) * self._scale

    def _at(self, point: Point) -> Point:
        return point[0] * self._scale, point[1] * self._scale


def _units(units: DisplayUnits) -> int:
    return int(dxf_units.IN if units is DisplayUnits.INCHES else dxf_units.MM)


def _notes(cut: CutSheet, job: Job, sheet_count: int) -> list[str]:
    sheet = cut.planned
    in_words = "inches" if job.units is DisplayUnits.INCHES else "millimetres"

    def length(value: float) -> str:
        return format_length(value, job.units.value)

    lines = [
        f"Job: {job.name}. Sheet {sheet.number} of {sheet_count}. Parts: {len(cut.pieces)}.",
        f"Units of this file: {in_words}. Zero: lower left corner of the sheet, at 0,0.",
        f"Material: {sheet.material.name}, thickness {thickness_text(sheet.material.thickness)}. "
        f"Stock: {sheet.stock.name}, {length(sheet.stock.width)} x {length(sheet.stock.height)}.",
        f"Cutter: {sheet.cutter.name}, diameter {length(sheet.cutter.diameter)}. "
        f"Spacing: {length(sheet.spacing)}. Margin: {length(sheet.margin)}.",
        *(
            f"Keep out: {zone.reason or 'clamp or flaw'}, {length(zone.width)} x {length(zone.height)} at "
            f"{length(zone.x)}, {length(zone.y)}."
            for zone in sheet.stock.keep_outs
        ),
        "Edges are finished edges, in cutting order: set the tool to the outside of OUTSIDE and the inside of INSIDE.",
        "",
        "CAUTION",
        CAUTION,
    ]
    return [one_line(line) for line in lines]
