"""The picture of a reading, read back by the reader, and the places of what was left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.artwork.drawing import Drawing, Lettering, Shape, Source
from app.artwork.letters import letter_drawing
from app.artwork.notes import Code
from app.artwork.picture import lettering_as_svg
from app.artwork.read import read_here
from app.artwork.svg import read_svg
from app.job.document import Artwork
from geometry.arcs import circle
from geometry.build import rectangle
from geometry.contour import Contour, FillRule
from geometry.curve import Arc, Cubic, Line
from geometry.measure import contour_area, contour_bounds


@pytest.fixture
def lettering() -> Lettering:
    blob = Contour((Cubic((300, 0), (300, 90), (400, 90), (400, 0)), Line((400, 0), (300, 0))))
    open_ = Contour((Line((10, 10), (20, 10)), Line((20, 10), (20, 15))), is_closed=False)
    shapes = tuple(
        Shape(contours, FillRule.EVEN_ODD, Source("a.svg", "", name))
        for name, contours in {
            "O & <O>": (circle((100, 50), 50), circle((100, 50), 20)),
            "H": (rectangle(80, 100, (200, 0)),),
            "B": (blob, open_),
        }.items()
    )
    return letter_drawing(Drawing(shapes, "mm"), Artwork("a", "a", "b"))


def test_picture_holds_the_letters_as_they_are(lettering: Lettering) -> None:
    picture = lettering_as_svg(lettering)
    back = read_svg(picture.encode(), "picture.svg")
    assert back.units == "mm"
    letters = [shape for shape in back.shapes if shape.source.object_id.startswith("a-")]
    assert len(letters) == 3
    for shape, letter in zip(letters, lettering.letters, strict=True):
        (region,) = letter.regions
        assert abs(contour_area(shape.contours[0])) == pytest.approx(contour_area(region.outer), rel=1e-5)
        assert contour_bounds(shape.contours[0]).width == pytest.approx(contour_bounds(region.outer).width, rel=1e-5)
    assert all(isinstance(segment, Arc) for contour in letters[0].contours for segment in contour.segments)


def test_findings_are_marked_at_their_places_and_listed(lettering: Lettering) -> None:
    picture = lettering_as_svg(lettering)
    placed = [finding for finding in lettering.findings if finding.where is not None]
    assert placed
    assert picture.count("<circle") == len({finding.where for finding in placed})
    assert "O &amp; &lt;O&gt;" in picture
    for finding in lettering.findings:
        assert str(finding.severity) in picture


def test_what_lies_beside_the_letters_is_in_the_picture(tmp_path: Path) -> None:
    """A square with gaps round a circle: its sides are dashed, each corner has its ring, two at one place share it."""
    gap = 0.3
    sides = [((0, 0), (50 - gap, 0)), ((50, 0), (50, 50)), ((50, 50 + gap), (0, 50)), ((0, 50 - gap), (0, gap))]
    lines = tuple(Contour((Line(*side),), is_closed=False) for side in sides)
    shapes = (Shape((circle((25, 25), 10),), FillRule.EVEN_ODD, Source("a.dxf")),)
    shapes += tuple(Shape((line,), FillRule.EVEN_ODD, Source("a.dxf")) for line in lines)
    found = letter_drawing(Drawing(shapes, "mm"), Artwork("a", "a", "b"))
    assert len(found.left_out) == 4
    picture = lettering_as_svg(found)
    back = read_svg(picture.encode(), "picture.svg")
    page = read_svg(picture.replace('fill="#ffffff"', 'fill="#fffffe"').encode(), "picture.svg").shapes[0]
    inside = contour_bounds(page.contours[0])
    dashed = [c for shape in back.shapes for c in shape.contours if not c.is_closed]
    assert len(dashed) == 4
    for contour in dashed:
        box = contour_bounds(contour)
        assert inside.min_x < box.min_x <= box.max_x < inside.max_x
        assert inside.min_y < box.min_y <= box.max_y < inside.max_y
    marked = {finding.where for finding in found.findings if finding.where is not None}
    assert picture.count("<circle") == len(marked)


def test_what_is_left_out_has_its_place(tmp_path: Path) -> None:
    """Each of these stands at (30, 40) of a page 100 mm high, so 60 mm up in the drawing."""
    body = (
        '<text x="30" y="40">A</text>',
        '<image x="30" y="40" width="5" height="5" href="data:,"/>',
        '<path d="M30 40h9" stroke="red" fill="none"/>',
        '<rect x="30" y="40" width="9" height="9" mask="url(#m)"/>',
        '<g transform="translate(10 20)"><path d="M20 20h9v9" style="marker-end:url(#m)"/></g>',
        '<rect x="30" y="40" width="90" height="9"/>',
    )
    codes = (
        Code.TEXT_NOT_OUTLINES,
        Code.NOT_GEOMETRY,
        Code.STROKE_AS_LINE,
        Code.MASK_IGNORED,
        Code.MARKER_LEFT,
        Code.OFF_PAGE,
    )
    for one, code in zip(body, codes, strict=True):
        path = tmp_path / "a.svg"
        path.write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">{one}'
            '<circle r="5" cx="9" cy="9"/></svg>'
        )
        (finding,) = [finding for finding in read_here(path).findings if finding.code == code]
        assert finding.where == pytest.approx((30.0, 60.0))
