"""The outline of an offcut from a drawing, and the largest rectangle in it."""

from __future__ import annotations

import math

import pytest

from app.planning.rack_outline import outline_of_file, usable_rectangle
from app.stock.rack_items import RackError, outline_area

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm" viewBox="0 0 900 900">{}</svg>'


def test_an_l_shaped_piece_keeps_its_true_outline(tmp_path):
    path = tmp_path / "piece.svg"
    path.write_text(SVG.format('<path d="M100 800 h600 v-300 h-350 v-400 h-250 z"/>'), encoding="utf-8")
    outline, usable = outline_of_file(path)
    assert outline_area(outline) == pytest.approx(600 * 300 + 250 * 400)
    assert min(x for x, _ in outline) == min(y for _, y in outline) == 0.0
    # The larger of 600 x 300 and 250 x 700.
    assert (usable.width, usable.height) == pytest.approx((600.0, 300.0), abs=0.01)


def test_a_round_piece_is_kept_from_inside_its_curve(tmp_path):
    path = tmp_path / "disc.svg"
    path.write_text(SVG.format('<circle cx="450" cy="450" r="300"/>'), encoding="utf-8")
    outline, usable = outline_of_file(path)
    assert 0.999 * math.pi * 300**2 < outline_area(outline) < math.pi * 300**2
    assert max(math.dist(a, b) for a in outline for b in outline) <= 600.0 + 1e-6
    # The largest rectangle in a circle is its square, 2 r^2 (textbook); the grid may miss a little of it.
    assert usable.width * usable.height == pytest.approx(2 * 300**2, rel=0.03)
    assert usable.width * usable.height <= 2 * 300**2


@pytest.mark.parametrize(
    ("drawn", "words"),
    [
        ('<path d="M0 0 h600 v600 h-600 z M100 100 h50 v50 h-50 z" fill-rule="evenodd"/>', "1 holes"),
        ('<path d="M0 0 h600 v600" fill="none" stroke="black"/>', "closed"),
    ],
)
def test_a_drawing_that_is_no_outline_is_one_sentence(tmp_path, drawn, words):
    from app.errors import AppError

    path = tmp_path / "piece.svg"
    path.write_text(SVG.format(drawn), encoding="utf-8")
    with pytest.raises(AppError, match=words):
        outline_of_file(path)


def test_a_sliver_has_no_usable_rectangle():
    with pytest.raises(RackError, match="too narrow"):
        usable_rectangle(((0.0, 0.0), (500.0, 0.0), (500.0, 5.0), (0.0, 5.0)))
