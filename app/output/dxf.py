"""Cut files: one DXF (R2010, or R12 for old controls) per sheet, lines and arcs only, one layer per kind of work.

Format facts are those of the published DXF reference: $INSUNITS 1 is inches and 4 millimetres, an LWPOLYLINE holds
points and bulges (tangent of a quarter of the arc's angle, negative when clockwise). R12 has neither of the two: there
the units stand in the notes, and edges are POLYLINE entities.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ezdxf import units as dxf_units
from ezdxf.colors import aci2rgb
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new as new_document

from app.cutting.operations import Operation, Work
from app.errors import ExportError
from app.job.cutting import Direction, DxfVersion, Hold
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


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of the cut file; its colour is one of the 255 numbered ones, which every version of the format knows."""

    name: str
    number: int
    line_type: str = "CONTINUOUS"

    @property
    def rgb(self) -> tuple[int, int, int]:
        """The colour as red, green, blue."""
        red, green, blue = aci2rgb(self.number)
        return red, green, blue


LAYERS: Final = (
    Layer("STOCK", 155),
    Layer("KEEPOUT", 234, "DASHED"),
    Layer("OUTSIDE", 151),
    Layer("INSIDE", 220),
    Layer("DRILL", 31),
    Layer("MARK", 70),
    Layer("NOTE", 241),
    Layer("OFFCUT", 61, "DASHDOT"),
)
PATH_LAYERS: Final = (
    Layer("PATH_INSIDE", 54),
    Layer("PATH_OUTSIDE", 73),
    Layer("PATH_OFFCUT", 243),
    Layer("HOLD", 202),
)
"""Only where the cutter's paths are asked for. Lightness (CIE L*) rises by 5 or more from one of the twelve colours to
the next, so that they stay apart in grey, and every two of them differ for colour-blind eyes as well."""

LAYER_OF: Final = {
    Work.DRILL: "DRILL",
    Work.MARK: "MARK",
    Work.INSIDE: "INSIDE",
    Work.OUTSIDE: "OUTSIDE",
    Work.OFFCUT: "OFFCUT",
}
PATH_LAYER_OF: Final = {Work.INSIDE: "PATH_INSIDE", Work.OUTSIDE: "PATH_OUTSIDE", Work.OFFCUT: "PATH_OFFCUT"}
_PART_TEXT_HEIGHTS: Final = (20.0, 15.0, 12.0, 9.0, 7.0)  # mm, largest first; the last is still read at arm's length
_NUMBER_HEIGHTS: Final = (25.0, 20.0, 15.0, 12.0, 9.0, 7.0, 5.0, 4.0, 3.0)
"""mm; for a part's number alone, where its name would be too small to read."""
_WIDTH_PER_HEIGHT: Final = 1.0
"""Width of a character in text heights: more than any plain drawing font needs."""
_LEAST_LINE: Final = 40  # characters
_DASH_LENGTHENING: Final = 100.0
"""The dashes of the line types are half a unit long; times this they are 50 mm, to be seen on a whole sheet."""


def write_dxf(cut: CutSheet, job: Job, path: Path, *, sheet_count: int) -> None:
    """Write the cut file of one sheet, in the job's units and version; edges in cutting order, then paths if wanted.

    Text stands on the NOTE layer only: part names in the parts (numbers, where a name would be too small to read),
    everything else above the sheet's upper edge, so that the drawing's lower left corner is the sheet's, at 0,0.

    Raises
    ------
    ExportError
        When a part has an edge that is neither line nor arc.
    """
    sheet = cut.planned
    scale = 1.0 / MM_PER[job.units.value]
    version = job.cutting.dxf_version
    # R12 has no variable for units; the notes say them in every version.
    units = 0 if version is DxfVersion.R12 else _units(job.units)
    document: Any = new_document(version.value, setup=["linetypes"], units=units)
    for layer in (*LAYERS, *PATH_LAYERS) if job.cutting.paths else LAYERS:
        document.layers.add(layer.name, color=layer.number, linetype=layer.line_type)
    pen = _Pen(document.modelspace(), scale, version)

    pen.contour("STOCK", polygon(sheet.stock.edge), sheet.stock.name)
    for zone in keep_out_contours(sheet.stock, sheet.margin):
        pen.contour("KEEPOUT", zone, sheet.stock.name)
    for operation in cut.operations:
        pen.operation(operation)
    if job.cutting.paths:
        for operation in cut.operations:
            pen.ways(operation)
    is_named = [pen.piece(piece) for piece in cut.pieces]
    names = () if all(is_named) else ("Numbers of the parts:", *map(_name, cut.pieces))
    top = pen.block(_notes(cut, job, sheet_count), names, sheet.stock)

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

    def __init__(self, space: Any, scale: float, version: DxfVersion) -> None:
        self.space = space
        self._scale = scale
        # R12 knows no LWPOLYLINE.
        is_old = version is DxfVersion.R12
        self._polyline = space.add_polyline2d if is_old else space.add_lwpolyline

    def operation(self, operation: Operation) -> None:
        layer = LAYER_OF[operation.work]
        if operation.work is Work.DRILL:
            radius = math.dist(operation.contour.segments[0].start, operation.begin)
            self.space.add_circle(self._at(operation.begin), radius * self._scale, dxfattribs={"layer": layer})
            return
        self.contour(layer, operation.contour, operation.part)

    def ways(self, operation: Operation) -> None:
        """The cutter's ways along one edge, and where it is up for a tab."""
        for way in operation.ways:
            self.contour(PATH_LAYER_OF[operation.work], way.contour, operation.part)
            for tab in way.tabs:
                self.contour("HOLD", tab, operation.part)

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
        self._polyline(points, format="xyb", close=contour.is_closed, dxfattribs={"layer": layer})

    def piece(self, piece: Piece) -> bool:
        """Write a part's number and name in it, or its number alone; answers whether the name is there."""
        for text, heights in ((_name(piece), _PART_TEXT_HEIGHTS), (str(piece.number), _NUMBER_HEIGHTS)):
            widths = [len(text) * height * _WIDTH_PER_HEIGHT for height in heights]
            place = place_label(piece.label_ground, piece.label_points, heights=heights, widths=widths)
            if place.is_inside:
                break
        self.text(text, place.middle, place.height, angle=place.angle, centred=True)
        return text == _name(piece)

    def text(self, text: str, at: Point, height: float, *, angle: float = 0.0, centred: bool = False) -> None:
        # A caret and a pair of percent signs are codes in DXF text.
        plain = text.replace("^", "^ ").replace("%%", "% %")
        entity = self.space.add_text(plain, height=height * self._scale, rotation=angle, dxfattribs={"layer": "NOTE"})
        align = TextEntityAlignment.MIDDLE_CENTER if centred else TextEntityAlignment.LEFT
        entity.set_placement(self._at(at), align=align)

    def block(self, lines: Sequence[str], names: Sequence[str], stock: StockSheet) -> float:
        """Lines of text above the sheet, then names side by side; answers the drawing's top in the file's units."""
        height = min(max(stock.width / 90, 4.0), 16.0)
        line_length = max(int(stock.width / (height * _WIDTH_PER_HEIGHT)), _LEAST_LINE)
        wrapped = [piece for line in lines for piece in (textwrap.wrap(line, line_length) or [""])]
        if names:
            wrapped += ["", *_side_by_side(names, line_length)]
        pitch = 1.6 * height
        for index, line in enumerate(reversed(wrapped)):
            if line:
                self.text(line, (0.0, stock.height + pitch * (index + 1)), height)
        return (stock.height + pitch * (len(wrapped) + 1)) * self._scale

    def _at(self, point: Point) -> Point:
        return point[0] * self._scale, point[1] * self._scale


def _name(piece: Piece) -> str:
    return one_line(f"{piece.number}: {piece.part.id} copy {piece.copy + 1}")


def _side_by_side(names: Sequence[str], line_length: int) -> list[str]:
    """Names on as few lines as they need, none of them broken, so that each can be searched for."""
    lines: list[str] = []
    for name in names:
        if lines and len(lines[-1]) + 3 + len(name) <= line_length:
            lines[-1] += f"   {name}"
        else:
            lines.append(name)
    return lines


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
        *_cutting_notes(cut, job),
        "",
        "CAUTION",
        CAUTION,
    ]
    return [one_line(line) for line in lines]


def _cutting_notes(cut: CutSheet, job: Job) -> list[str]:
    """How the edges are meant to be cut."""
    cutting = job.cutting
    is_climb = cutting.direction is Direction.CLIMB
    ways = (
        "clockwise round OUTSIDE, anticlockwise round INSIDE"
        if is_climb
        else ("anticlockwise round OUTSIDE, clockwise round INSIDE")
    )
    lines = [
        "OUTSIDE and INSIDE are finished edges, in cutting order: set the tool to the outside of OUTSIDE and the "
        f"inside of INSIDE. They run for {cutting.direction.value} cutting with a clockwise spindle (M3): {ways}, "
        f"compensation {'G41' if is_climb else 'G42'}."
    ]
    if cutting.paths:
        lines.append(
            "PATH layers are the way of the cutter's middle, leads included, in cutting order: compensation off (G40). "
            "Cut either the PATH layers or the finished edges, not both."
        )
    for hold, words in (
        (
            Hold.TABS,
            f"tabs {format_length(cutting.tab_width, job.units.value)} wide and "
            f"{format_length(min(cutting.tab_thickness, cut.planned.material.thickness), job.units.value)} thick",
        ),
        (Hold.SKIN, f"a skin of {format_length(cutting.skin, job.units.value)}"),
    ):
        numbers = cut.held_by(hold)
        if numbers:
            where = ", on the lines of layer HOLD" if hold is Hold.TABS and cutting.paths else ""
            lines.append(f"Hold with {words}{where}: {', '.join(numbers)}.")
    return lines
