"""Outlined strokes against shapely's buffer, which shares no code with them, and against areas worked out by hand."""

from __future__ import annotations

import math

import pytest
import shapely

from app.artwork.notes import Code
from app.artwork.options import ReadOptions
from app.artwork.strokes import Cap, Corner, Stroke, painted
from app.artwork.svg import read_svg
from geometry.arcs import circle
from geometry.build import rectangle
from geometry.contour import Contour, FillRule
from geometry.curve import Arc, Cubic, Line
from geometry.flatten import flatten_contour
from geometry.measure import contour_area, contour_bounds

ZIGZAG = Contour((Line((0, 0), (50, 0)), Line((50, 0), (60, 40)), Line((60, 40), (10, 20))), is_closed=False)
WAVE = Contour((Cubic((0, 0), (0, 60), (80, -40), (80, 30)),), is_closed=False)
HOOK = Contour((Line((0, 0), (40, 0)), Arc((40, 0), (40, 20), 1.0), Arc((40, 20), (52, 20), -1.0)), is_closed=False)


def area(contours: tuple[Contour, ...]) -> float:
    return sum(map(contour_area, contours))


@pytest.mark.parametrize("cap", list(Cap))
@pytest.mark.parametrize("corner", list(Corner))
@pytest.mark.parametrize("line", [ZIGZAG, WAVE, HOOK], ids=["zigzag", "wave", "hook"])
def test_open_lines_match_the_buffer(line: Contour, corner: Corner, cap: Cap) -> None:
    contours, findings = painted((line,), None, Stroke(8.0, cap, corner))
    assert findings == ()
    buffer = shapely.LineString(flatten_contour(line, 1e-4)).buffer(
        4.0,
        cap_style={Cap.BUTT: "flat", Cap.ROUND: "round", Cap.SQUARE: "square"}[cap],
        join_style={Corner.MITRE: "mitre", Corner.ROUND: "round", Corner.BEVEL: "bevel"}[corner],
        mitre_limit=4.0,
        quad_segs=200,
    )
    # Arcs of 0.01 mm deviation along 2 x 130 mm at most.
    assert area(contours) == pytest.approx(buffer.area, rel=1e-3)
    boxes = [contour_bounds(contour) for contour in contours]
    box = (
        min(b.min_x for b in boxes),
        min(b.min_y for b in boxes),
        max(b.max_x for b in boxes),
        max(b.max_y for b in boxes),
    )
    assert box == pytest.approx(buffer.bounds, abs=0.03)


def test_ring_of_a_circle_stays_two_circles() -> None:
    contours, _ = painted((circle((5, 5), 20),), None, Stroke(6.0))
    assert area(contours) == pytest.approx(math.pi * (23**2 - 17**2), rel=1e-12)
    assert all(isinstance(segment, Arc) for contour in contours for segment in contour.segments)


@pytest.mark.parametrize(
    ("corner", "expected"),
    # Frame of a 100 x 50 rectangle with a line of 10: mitred 110 x 60 - 90 x 40; round takes four corners of 25 - pi
    # 25/4 off; a bevel takes half of each 5 x 5 corner.
    [(Corner.MITRE, 3000), (Corner.ROUND, 3000 - 100 + 25 * math.pi), (Corner.BEVEL, 3000 - 50)],
)
def test_frame_of_a_rectangle(corner: Corner, expected: float) -> None:
    contours, _ = painted((rectangle(100, 50),), None, Stroke(10.0, corner=corner))
    assert area(contours) == pytest.approx(expected)


def test_sharp_corner_is_bevelled_beyond_the_mitre_limit() -> None:
    spike = Contour((Line((0, 0), (100, 0)), Line((100, 0), (0, 10))), is_closed=False)
    contours, _ = painted((spike,), None, Stroke(4.0, corner=Corner.MITRE))
    assert max(contour_bounds(contour).max_x for contour in contours) < 103
    longer, _ = painted((spike,), None, Stroke(4.0, corner=Corner.MITRE, mitre_limit=100.0))
    # Half the mitre is the half width over the sine of half the angle (SVG 1.1, 11.4).
    reach = 2.0 / math.sin(math.atan2(10, 100) / 2)
    assert max(contour_bounds(contour).max_x for contour in longer) == pytest.approx(100 + reach, abs=0.06)


def test_fill_and_stroke_together() -> None:
    contours, _ = painted((rectangle(100, 50),), FillRule.NONZERO, Stroke(10.0))
    assert area(contours) == pytest.approx(110 * 60)


def test_line_wider_than_its_circle_fills_the_middle() -> None:
    contours, _ = painted((circle((0, 0), 5),), None, Stroke(20.0))
    assert area(contours) == pytest.approx(math.pi * 225, rel=1e-6)


def test_svg_strokes_are_outlined_on_request() -> None:
    body = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 50 50">'
        '<g fill="none" stroke="black" stroke-width="2" stroke-linecap="round"><path d="M10 10H30"/>'
        '<path d="M10 20H30" stroke-dasharray="1 2"/></g></svg>'
    )
    drawing = read_svg(body.encode(), "a.svg", options=ReadOptions(outline_strokes=True))
    (bar,) = drawing.shapes[0].contours
    assert contour_area(bar) == pytest.approx(40 * 4 + math.pi * 4)
    assert not drawing.shapes[1].contours[0].is_closed
    assert {Code.STROKE_OUTLINED, Code.STROKE_NOT_OUTLINED} <= {finding.code for finding in drawing.findings}
