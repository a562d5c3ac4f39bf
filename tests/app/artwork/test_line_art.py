"""What SVG and PDF only stroke is line art like a DXF: joined, freed of doubles, with counters by containment."""

from __future__ import annotations

import io
import math

import pikepdf
import pytest

from app.artwork.drawing import Drawing
from app.artwork.letters import letter_drawing
from app.artwork.notes import Code
from app.artwork.options import ReadOptions
from app.artwork.pdf import read_pdf
from app.artwork.svg import read_svg
from app.job.document import Artwork
from geometry.measure import region_area

# A square of 80 mm with a gap of 0.05 mm, one side doubled in part and another drawn twice; a circle within.
LINES = (((10, 10), (60, 10)), ((40, 10), (90, 10)), ((90, 10), (90, 90)), ((90, 10), (90, 90)), ((90, 90), (10, 90)),
         ((10, 90), (10, 10.05)))  # fmt: skip
KAPPA = 0.5522847498


def svg(**options: object) -> Drawing:
    body = "".join(f'<line x1="{a}" y1="{b}" x2="{c}" y2="{d}"/>' for (a, b), (c, d) in LINES)
    data = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
        f'<g fill="none" stroke="red">{body}<circle cx="50" cy="50" r="20"/></g></svg>'
    )
    return read_svg(data.encode(), "a.svg", options=ReadOptions(**options))


def pdf(**options: object) -> Drawing:
    mm = 72 / 25.4
    content = [f"{mm} 0 0 {mm} 0 0 cm"]
    content += [f"{a} {b} m {c} {d} l S" for (a, b), (c, d) in LINES]
    k = 20 * KAPPA
    content.append(
        f"70 50 m 70 {50 + k} {50 + k} 70 50 70 c {50 - k} 70 30 {50 + k} 30 50 c "
        f"30 {50 - k} {50 - k} 30 50 30 c {50 + k} 30 70 {50 - k} 70 50 c s"
    )
    document = pikepdf.new()
    document.add_blank_page(page_size=(100 * mm, 100 * mm))
    document.pages[0].obj.Contents = document.make_stream("\n".join(content).encode())
    stream = io.BytesIO()
    document.save(stream)
    return read_pdf(stream.getvalue(), "a.pdf", options=ReadOptions(**options))


@pytest.mark.parametrize("read", [svg, pdf])
def test_stroked_lines_make_a_letter_with_its_counter(read) -> None:
    drawing = read()
    (letter,) = letter_drawing(drawing, Artwork("a", "a", "b")).letters
    (region,) = letter.regions
    assert len(region.holes) == 1
    assert region_area(region) == pytest.approx(6400 - 400 * math.pi, rel=1e-3)
    assert {Code.DUPLICATE, Code.OVERLAPPING, Code.JOINED, Code.STROKE_AS_LINE} <= {f.code for f in drawing.findings}


@pytest.mark.parametrize("read", [svg, pdf])
def test_a_gap_wider_than_chosen_stays_open(read) -> None:
    drawing = read(join_gap=0.01)
    assert sum(not contour.is_closed for shape in drawing.shapes for contour in shape.contours) == 1
