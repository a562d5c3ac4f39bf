"""The picture of a reading, read back by the reader, and scaling by a known dimension."""

from __future__ import annotations

import pytest

from app.artwork.dimension import scale_by_dimension
from app.artwork.drawing import Drawing, Lettering, Shape, Source
from app.artwork.letters import letter_drawing
from app.artwork.picture import lettering_as_svg
from app.artwork.svg import read_svg
from app.errors import JobError
from app.job.document import Artwork, Scale, ScaleBy
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
    assert picture.count("<circle") == len(placed)
    assert "O &amp; &lt;O&gt;" in picture
    for finding in lettering.findings:
        assert str(finding.severity) in picture


def test_known_dimension(lettering: Lettering) -> None:
    scale = scale_by_dimension(lettering, (0, 0), (30, 40), 125.0)
    assert scale == Scale(ScaleBy.OVERALL_WIDTH, pytest.approx(lettering.width * 2.5))
    for first, second, length in (((0, 0), (0, 0), 5.0), ((0, 0), (1, 0), 0.0), ((0, 0), (1, 0), float("nan"))):
        with pytest.raises(JobError):
            scale_by_dimension(lettering, first, second, length)
