"""A picture of what was read, as SVG: letters with their names, findings marked at their places and listed below."""

from __future__ import annotations

import functools
import textwrap
from xml.sax.saxutils import escape

from app.artwork.drawing import Letter, Lettering
from geometry.arcs import arc_radius, arc_sweep
from geometry.contour import Contour
from geometry.curve import Arc, Cubic, Line
from geometry.findings import Severity
from geometry.measure import Bounds, region_bounds
from geometry.units import format_both

_COLOURS = {Severity.NOTE: "#3b6ea5", Severity.WARNING: "#b87000", Severity.ERROR: "#c0282d"}
_LINE = 1.5  # of the text height: from one line of the list to the next
_CHARACTER = 0.52  # of the text height: width of a character
_ROW = 80  # characters that fit beside each other below the narrowest artwork


def lettering_as_svg(lettering: Lettering) -> str:
    """SVG file, in mm at true size, of an artwork as it was read.

    Letters are filled with their counters open, each with its name. A finding with a place is a numbered ring there;
    all findings are listed below with the same numbers. Arcs and curves are those of the letters, not chords.
    """
    width, height = lettering.width, lettering.height
    size = max(width, height) / 60.0 or 1.0  # text height
    margin = 3.0 * size
    listed = lettering.findings
    written = max(width, _ROW * _CHARACTER * size)
    wrapper = textwrap.TextWrapper(int(written / (_CHARACTER * size)), break_on_hyphens=False)
    told = [
        (finding, wrapper.wrap(f"{number}  {finding.severity}: {finding.message}"))
        for number, finding in enumerate(listed, start=1)
    ]
    total_width = written + 2.0 * margin
    total_height = height + 2.0 * margin + _LINE * size * (sum(len(lines) for _, lines in told) + 2)
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{total_width:.3f}mm" height="{total_height:.3f}mm" '
        f'viewBox="{-margin:.3f} {-height - margin:.3f} {total_width:.3f} {total_height:.3f}">',
        f'<rect x="{-margin:.3f}" y="{-height - margin:.3f}" width="100%" height="100%" fill="#ffffff"/>',
        f'<g fill="#d9dde2" stroke="#30353b" stroke-width="{size / 15.0:.4f}" fill-rule="evenodd">',
        *(f'<path id="{escape(letter.id, {chr(34): "&quot;"})}" d="{_path(letter)}"/>' for letter in lettering.letters),
        "</g>",
        f'<g font-family="sans-serif" font-size="{size:.3f}" text-anchor="middle" fill="#30353b">',
        *(_name(letter, size) for letter in lettering.letters),
        "</g>",
    ]
    for number, finding in enumerate(listed, start=1):
        if finding.where is not None:
            rows.append(_mark(number, finding.where, _COLOURS[finding.severity], size))
    top = margin + _LINE * size
    rows.append(f'<g font-family="sans-serif" font-size="{size:.3f}">')
    rows.append(f'<text x="0" y="{top:.3f}">{escape(f"{format_both(width)} x {format_both(height)}")}</text>')
    y = top
    for finding, lines in told:
        for indent, line in enumerate(lines):
            y += _LINE * size
            x = 1.5 * size if indent else 0.0
            rows.append(f'<text x="{x:.3f}" y="{y:.3f}" fill="{_COLOURS[finding.severity]}">{escape(line)}</text>')
    rows += ["</g>", "</svg>", ""]
    return "\n".join(rows)


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
    box = functools.reduce(Bounds.union, map(region_bounds, letter.regions))
    x, y = box.centre
    return f'<text x="{x:.3f}" y="{-y + 0.35 * size:.3f}">{escape(letter.name)}</text>'


def _mark(number: int, where: tuple[float, float], colour: str, size: float) -> str:
    x, y = where
    return (
        f'<g stroke="{colour}" fill="none" stroke-width="{size / 8.0:.4f}"><circle cx="{x:.3f}" cy="{-y:.3f}" '
        f'r="{size:.3f}"/><text x="{x + 1.2 * size:.3f}" y="{-y - 0.6 * size:.3f}" font-family="sans-serif" '
        f'font-size="{size:.3f}" fill="{colour}" stroke="none">{number}</text></g>'
    )
