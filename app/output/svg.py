"""A plain SVG of a sheet: lines and true arcs in millimetres, one group per layer of the cut file; and its check.

For looking at and for machines that read SVG. SVG's y points down, so the sheet is turned over in x: y is the sheet's
height less the y of the plan. An arc of an SVG path is `A r r 0 large sweep x y`; sweep 1 runs clockwise as seen, with
y down (W3C SVG 1.1, section 8.3.8).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Final

from lxml import etree

from app.errors import ExportError
from app.output.cut_sheet import CutSheet
from app.output.dxf import LAYER_OF, LAYERS, PATH_LAYER_OF, PATH_LAYERS, keep_out_contours
from app.output.words import one_line
from geometry.arcs import arc_radius, split_segment
from geometry.build import polygon
from geometry.contour import Contour
from geometry.curve import Arc, Line, Point, Segment
from geometry.measure import contour_area, contour_bounds, contour_length

TOLERANCE: Final = 0.001
"""mm; how far a curve read back may differ in place and length; areas by this times the length."""
_DECIMALS: Final = 5
_SVG: Final = "http://www.w3.org/2000/svg"
_QUARTER: Final = 0.4143  # bulge of a quarter turn, and a little
_DARKER: Final = 0.6  # the layer's colours are made for dark grounds
_DASHES: Final = {"DASHED": "12 6", "DASHDOT": "16 5 3 5"}


def layer_contours(cut: CutSheet) -> dict[str, list[Contour]]:
    """What stands on each layer, in the sheet's frame, in cutting order."""
    stock = cut.planned.stock
    found: dict[str, list[Contour]] = {layer.name: [] for layer in (*LAYERS, *PATH_LAYERS)}
    found["STOCK"].append(polygon(stock.edge))
    found["KEEPOUT"] += keep_out_contours(stock, cut.planned.margin)
    for one in cut.operations:
        found[LAYER_OF[one.work]].append(one.contour)
        if cut.cutting.paths and one.work in PATH_LAYER_OF:
            found[PATH_LAYER_OF[one.work]] += [way.contour for way in one.ways]
            found["HOLD"] += [tab for way in one.ways for tab in way.tabs]
    return found


def write_svg(cut: CutSheet, path: Path) -> None:
    """Write the sheet, drawn in mm."""
    stock = cut.planned.stock
    root = etree.Element(
        f"{{{_SVG}}}svg",
        {
            "width": f"{_number(stock.width)}mm",
            "height": f"{_number(stock.height)}mm",
            "viewBox": f"0 0 {_number(stock.width)} {_number(stock.height)}",
        },
        nsmap={None: _SVG},
    )
    etree.SubElement(root, "title").text = one_line(f"{cut.planned.file}: {cut.planned.stock.name}")
    contours = layer_contours(cut)
    for layer in (*LAYERS, *PATH_LAYERS):
        if not contours[layer.name]:
            continue
        red, green, blue = (round(_DARKER * part) for part in layer.rgb)
        style = {"id": layer.name, "fill": "none", "stroke": f"#{red:02x}{green:02x}{blue:02x}", "stroke-width": "1"}
        if layer.line_type in _DASHES:
            style["stroke-dasharray"] = _DASHES[layer.line_type]
        group = etree.SubElement(root, "g", style)
        for contour in contours[layer.name]:
            etree.SubElement(group, "path", {"d": _data(contour, stock.height)})
    notes = etree.SubElement(root, "g", {"id": "NOTE", "font-family": "sans-serif", "font-size": "12", "fill": "black"})
    for piece in cut.pieces:
        x, y = piece.label_points[0]
        name = etree.SubElement(
            notes, "text", {"x": _number(x), "y": _number(stock.height - y), "text-anchor": "middle"}
        )
        name.text = one_line(f"{piece.number}: {piece.part.id} copy {piece.copy + 1}")
    path.write_bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True))


def _number(value: float) -> str:
    text = f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def _short_arcs(segment: Segment) -> Iterator[Segment]:
    """Arcs of a quarter turn at most: radius and ends say nothing sharp about an arc near a half turn."""
    if isinstance(segment, Arc) and abs(segment.bulge) > _QUARTER:
        for half in split_segment(segment, 0.5):
            yield from _short_arcs(half)
    else:
        yield segment


def _data(contour: Contour, height: float) -> str:
    def at(point: Point) -> str:
        return f"{_number(point[0])} {_number(height - point[1])}"

    words = [f"M{at(contour.segments[0].start)}"]
    for segment in chain.from_iterable(map(_short_arcs, contour.segments)):
        if isinstance(segment, Arc):
            radius = f"{arc_radius(segment):.8f}"
            words.append(f"A{radius} {radius} 0 0 {int(segment.bulge < 0.0)} {at(segment.end)}")
        else:
            words.append(f"L{at(segment.end)}")
    if contour.is_closed:
        words.append("Z")
    return "".join(words)


def check_svg(path: Path, cut: CutSheet) -> None:
    """Read a written SVG back and compare every curve with the sheet.

    Raises
    ------
    ExportError
        At the first difference.
    """
    root = etree.parse(path).getroot()
    height = cut.planned.stock.height
    wanted = layer_contours(cut)
    for group in root.iter(f"{{{_SVG}}}g"):
        layer = group.get("id", "")
        if layer == "NOTE":
            continue
        drawn = [_parsed(one.get("d", ""), height) for one in group.iter(f"{{{_SVG}}}path")]
        if len(drawn) != len(wanted.get(layer, ())):
            raise ExportError(f"{path.name}: {len(drawn)} curves on {layer}, the plan has {len(wanted.get(layer, ()))}")
        for ours, theirs in zip(wanted.pop(layer), drawn, strict=True):
            _compare(path.name, layer, ours, theirs)
    missing = [layer for layer, contours in wanted.items() if contours]
    if missing:
        raise ExportError(f"{path.name}: layer {missing[0]} is missing")
    if len(list(root.iter(f"{{{_SVG}}}text"))) != len(cut.pieces):
        raise ExportError(f"{path.name}: not every part is named")


def _compare(file: str, layer: str, ours: Contour, theirs: Contour) -> None:
    length = contour_length(ours)
    a, b = contour_bounds(ours), contour_bounds(theirs)
    off = max(
        abs(a.min_x - b.min_x),
        abs(a.min_y - b.min_y),
        abs(a.max_x - b.max_x),
        abs(a.max_y - b.max_y),
        math.dist(ours.segments[0].start, theirs.segments[0].start),
    )
    is_same_area = not ours.is_closed or abs(contour_area(ours) - contour_area(theirs)) <= TOLERANCE * length
    if off > TOLERANCE or abs(length - contour_length(theirs)) > TOLERANCE or not is_same_area:
        x, y = ours.segments[0].start
        raise ExportError(f"{file}: a curve on {layer} that begins at {x:.2f}, {y:.2f} mm is not the plan's")


def _parsed(data: str, height: float) -> Contour:
    """A path of the commands M, L, A and Z, back in the sheet's frame."""
    segments: list[Segment] = []
    at = (0.0, 0.0)
    is_closed = False
    for command, numbers in _commands(data):
        if command == "Z":
            is_closed = True
            continue
        to = (numbers[-2], height - numbers[-1])
        if command == "L":
            segments.append(Line(at, to))
        elif command == "A":
            radius, large, sweep = numbers[0], bool(numbers[3]), bool(numbers[4])
            half = min(math.dist(at, to) / 2 / radius, 1.0)
            turn = 2 * math.asin(half)
            turn = 2 * math.pi - turn if large else turn
            segments.append(Arc(at, to, math.tan(turn / 4) * (-1.0 if sweep else 1.0)))
        at = to
    return Contour(tuple(segments), is_closed)


def _commands(data: str) -> Iterator[tuple[str, list[float]]]:
    for word in data.replace("M", "\nM").replace("L", "\nL").replace("A", "\nA").replace("Z", "\nZ").split("\n"):
        if word:
            yield word[0], [float(number) for number in word[1:].split()]
