"""A picture of what was read, as SVG: letters with their names, findings marked at their places and listed below."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from xml.sax.saxutils import escape

from app.artwork.drawing import Letter, Lettering
from app.artwork.overlaps import rough_polygon
from geometry.arcs import arc_radius, arc_sweep
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line, Point
from geometry.findings import Finding, Severity
from geometry.measure import Bounds, contour_bounds, region_bounds
from geometry.units import format_both

_COLOURS = {Severity.NOTE: "#3b6ea5", Severity.WARNING: "#b87000", Severity.ERROR: "#c0282d"}
_LINE = 1.5  # of the text height: from one line of the list to the next
_CHARACTER = 0.52  # of the text height: width of a character
_NEAR = 2.0  # times the artwork's size: what lies further out is only listed
_ROW = 80  # characters that fit beside each other below the narrowest artwork


def lettering_as_svg(lettering: Lettering) -> str:
    """SVG file, in mm at true size, of an artwork as it was read.

    Letters are filled with their counters open, each with its name; open lines that were left out are dashed. A
    finding with a place is a numbered ring there; all findings are listed below with the same numbers. Arcs and curves
    are those of the letters, not chords.
    """
    frame = _frame(lettering)
    size = max(frame.width, frame.height) / 60.0 or 1.0  # text height
    margin = 3.0 * size
    listed = lettering.findings
    written = max(frame.width, _ROW * _CHARACTER * size)
    wrapper = textwrap.TextWrapper(int(written / (_CHARACTER * size)), break_on_hyphens=False)
    told = [
        (finding, wrapper.wrap(f"{number}  {finding.severity}: {finding.message}"))
        for number, finding in enumerate(listed, start=1)
    ]
    left, top = frame.min_x - margin, -frame.max_y - margin
    total_width = written + 2.0 * margin
    total_height = frame.height + 2.0 * margin + _LINE * size * (sum(len(lines) for _, lines in told) + 2)
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{total_width:.3f}mm" height="{total_height:.3f}mm" '
        f'viewBox="{left:.3f} {top:.3f} {total_width:.3f} {total_height:.3f}">',
        f'<rect x="{left:.3f}" y="{top:.3f}" width="{total_width:.3f}" height="{total_height:.3f}" fill="#ffffff"/>',
        f'<g fill="#d9dde2" stroke="#30353b" stroke-width="{size / 15.0:.4f}" fill-rule="evenodd">',
        *(f'<path id="{escape(letter.id, {chr(34): "&quot;"})}" d="{_path(letter)}"/>' for letter in lettering.letters),
        "</g>",
        f'<g fill="none" stroke="{_COLOURS[Severity.ERROR]}" stroke-width="{size / 10.0:.4f}" '
        f'stroke-dasharray="{size / 2.0:.4f} {size / 4.0:.4f}">',
        *(f'<path d="{path_data(contour)}"/>' for contour in lettering.left_out),
        "</g>",
        f'<g font-family="sans-serif" font-size="{size:.3f}" text-anchor="middle" fill="#30353b">',
        *(_name(letter, size) for letter in lettering.letters),
        "</g>",
    ]
    rows += [_mark(numbers, where, severity, size) for where, (numbers, severity) in _places(listed, size).items()]
    rows.append(f'<g font-family="sans-serif" font-size="{size:.3f}">')
    y = -frame.min_y + margin + _LINE * size
    said = escape(f"{format_both(lettering.width)} x {format_both(lettering.height)}")
    rows.append(f'<text x="{frame.min_x:.3f}" y="{y:.3f}">{said}</text>')
    for finding, lines in told:
        for indent, line in enumerate(lines):
            y += _LINE * size
            x = frame.min_x + (1.5 * size if indent else 0.0)
            rows.append(f'<text x="{x:.3f}" y="{y:.3f}" fill="{_COLOURS[finding.severity]}">{escape(line)}</text>')
    rows += ["</g>", "</svg>", ""]
    return "\n".join(rows)


def _frame(lettering: Lettering) -> Bounds:
    """The letters, what was left out beside them, and places of findings as far as they lie near."""
    whole = Bounds(0.0, 0.0, lettering.width, lettering.height)
    reach = _NEAR * max(whole.width, whole.height)
    near = [contour_bounds(contour) for contour in lettering.left_out]
    near += [Bounds(*finding.where, *finding.where) for finding in lettering.findings if finding.where is not None]
    for box in near:
        joined = whole.union(box)
        if max(-joined.min_x, -joined.min_y, joined.max_x - lettering.width, joined.max_y - lettering.height) <= reach:
            whole = joined
    return whole


def _places(listed: Sequence[Finding], size: float) -> dict[Point, tuple[list[int], Severity]]:
    """Numbers of the findings at each place, and the severity of the gravest; places that touch are one."""
    order = [Severity.NOTE, Severity.WARNING, Severity.ERROR]
    found: dict[Point, tuple[list[int], Severity]] = {}
    for number, finding in enumerate(listed, start=1):
        if finding.where is None:
            continue
        where = next((place for place in found if math.dist(place, finding.where) < 0.5 * size), finding.where)
        numbers, severity = found.get(where, ([], Severity.NOTE))
        found[where] = ([*numbers, number], max(severity, finding.severity, key=order.index))
    return found


def path_data(contour: Contour) -> str:
    """Path data of a contour, y down as SVG has it: lines, true arcs and cubics."""
    x, y = contour.segments[0].start
    parts = [f"M{x:.6g} {-y:.6g}"]
    for segment in contour.segments:
        x, y = segment.end
        match segment:
            case Line():
                parts.append(f"L{x:.6g} {-y:.6g}")
            case Arc(bulge=bulge):
                radius = arc_radius(segment)
                # Seen with y down, an anticlockwise arc runs against the positive angle: sweep flag 0.
                large, sweep = int(abs(arc_sweep(segment)) > 180.0), int(bulge < 0.0)
                parts.append(f"A{radius:.6g} {radius:.6g} 0 {large} {sweep} {x:.6g} {-y:.6g}")
            case Cubic(control1=(ax, ay), control2=(bx, by)):
                parts.append(f"C{ax:.6g} {-ay:.6g} {bx:.6g} {-by:.6g} {x:.6g} {-y:.6g}")
    return "".join(parts) + ("z" if contour.is_closed else "")


def _path(letter: Letter) -> str:
    return "".join(path_data(contour) for region in letter.regions for contour in (region.outer, *region.holes))


def _name(letter: Letter, size: float) -> str:
    """Name on the material of the letter's largest piece, where no counter or other letter lies under it."""
    largest = max(letter.regions, key=lambda region: region_bounds(region).width * region_bounds(region).height)
    place = rough_polygon(largest).representative_point()
    return f'<text x="{place.x:.3f}" y="{-place.y + 0.35 * size:.3f}">{escape(letter.name)}</text>'


def _mark(numbers: Sequence[int], where: Point, severity: Severity, size: float) -> str:
    (x, y), colour = where, _COLOURS[severity]
    return (
        f'<g stroke="{colour}" fill="none" stroke-width="{size / 8.0:.4f}"><circle cx="{x:.3f}" cy="{-y:.3f}" '
        f'r="{size:.3f}"/><text x="{x + 1.2 * size:.3f}" y="{-y - 0.6 * size:.3f}" font-family="sans-serif" '
        f'font-size="{size:.3f}" fill="{colour}" stroke="none">{", ".join(map(str, numbers))}</text></g>'
    )
