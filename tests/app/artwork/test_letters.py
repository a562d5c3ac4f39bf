"""Letters from drawings made in the test: grouping, order, names, scale, doubts."""

from __future__ import annotations

import dataclasses
import itertools
import math
import re

import pytest

from app.artwork.capitals import measured_capital
from app.artwork.drawing import Drawing, Shape, Source
from app.artwork.letters import letter_drawing
from app.artwork.notes import Code
from app.artwork.order import reading_order
from app.artwork.report import reading_as_json, reading_as_text, segment_counts
from app.errors import AppError, JobError, ReadError
from app.job.document import Artwork, Scale, ScaleBy
from geometry.arcs import circle
from geometry.build import rectangle, region
from geometry.contour import Contour, FillRule
from geometry.curve import Line
from geometry.findings import Severity
from geometry.measure import Bounds, region_bounds
from geometry.regions import RegionCode
from geometry.units import format_both

EVEN_ODD = FillRule.EVEN_ODD


def shape(*contours: Contour, name: str = "") -> Shape:
    return Shape(contours, EVEN_ODD, Source("test.svg", "", name))


def drawing(*shapes: Shape, units: str | None = "mm") -> Drawing:
    return Drawing(shapes, units)


def art(by: ScaleBy = ScaleBy.AS_DRAWN, length: float | None = None, units: str | None = None) -> Artwork:
    return Artwork("sign", "Sign", "build", scale=Scale(by, length), units=units)


def test_each_outer_contour_with_its_counters_is_a_letter() -> None:
    both = shape(rectangle(10, 20), rectangle(4, 4, (3, 3)), rectangle(10, 20, (30, 0)), name="pair")
    lettering = letter_drawing(drawing(both), art())
    assert [letter.name for letter in lettering.letters] == ["pair 1", "pair 2"]
    assert [len(letter.regions[0].holes) for letter in lettering.letters] == [1, 0]
    assert [letter.id for letter in lettering.letters] == ["sign-01", "sign-02"]


def test_everything_starts_at_the_lower_left() -> None:
    lettering = letter_drawing(drawing(shape(rectangle(10, 20, (-500, 300))), shape(circle((0, 0), 7))), art())
    boxes = [region_bounds(letter.regions[0]) for letter in lettering.letters]
    assert min(box.min_x for box in boxes) == 0
    assert min(box.min_y for box in boxes) == 0
    assert (lettering.width, lettering.height) == (507, 327)


def test_reading_order() -> None:
    def at(x: float, y: float, width: float, height: float) -> Bounds:
        return Bounds(x, y, x + width, y + height)

    boxes = [
        at(0, 0, 8, 10),  # second line, first letter
        at(20, 100.3, 8, 10),  # first line, third letter, a little high
        at(0, 100, 8, 10),
        at(10, 99.8, 8, 10.4),  # round letter that overshoots
        at(10, -3, 8, 10),  # second line, with a descender
        at(30, 107, 2, 4),  # apostrophe of the first line
        at(-50, 0, 40, 110),  # emblem at the left of both lines
        at(20, -1.5, 2, 3),  # comma of the second line
    ]
    assert reading_order(boxes) == [6, 2, 3, 1, 5, 0, 4, 7]
    assert reading_order([]) == []


@pytest.mark.parametrize(
    ("by", "length", "size"),
    [
        (ScaleBy.OVERALL_WIDTH, 1000.0, (1000.0, 400.0)),
        (ScaleBy.OVERALL_HEIGHT, 1000.0, (2500.0, 1000.0)),
        (ScaleBy.CAPITAL_HEIGHT, 609.6, (1524.0, 609.6)),
    ],
)
def test_scale_by_each_measure(by: ScaleBy, length: float, size: tuple[float, float]) -> None:
    lettering = letter_drawing(drawing(shape(rectangle(10, 20)), shape(rectangle(10, 20, (40, 0)))), art(by, length))
    assert (lettering.width, lettering.height) == pytest.approx(size)


def test_capital_height_is_measured_on_flat_topped_letters() -> None:
    # Two flat letters 100 high, a round one that overshoots to 104, a low flat one, and an emblem of 300.
    letters = [
        (shape(circle((0, 50), 52), name="O")),
        (shape(rectangle(60, 100, (100, 0)), name="H")),
        (shape(rectangle(50, 100, (200, 0)), name="E")),
        (shape(rectangle(50, 70, (300, 0)), name="x")),
        (shape(rectangle(300, 300, (400, 0)), name="emblem")),
    ]
    lettering = letter_drawing(drawing(*letters), art(ScaleBy.CAPITAL_HEIGHT, 200.0))
    assert lettering.scale == pytest.approx(2.0)
    (finding,) = [f for f in lettering.findings if f.code == Code.MEASURED_ON]
    assert "'H'" in finding.message
    assert "200 mm" in finding.message


def test_without_flat_tops_the_tallest_is_measured() -> None:
    round_ones = [((region(circle((0, 0), r)),), Bounds(-r, -r, r, r)) for r in (5.0, 8.0, 6.0)]
    assert measured_capital(round_ones) == (1, 16.0, False)


def test_no_capital_height_is_claimed_of_emblems() -> None:
    emblems = drawing(shape(rectangle(60, 100)), shape(rectangle(300, 300, (400, 0))), shape(circle((200, 50), 20)))
    as_drawn = letter_drawing(emblems, art())
    assert as_drawn.capital_height is None
    assert Code.MEASURED_ON not in {finding.code for finding in as_drawn.findings}
    assert "capital height" not in reading_as_text(emblems, as_drawn)
    assert letter_drawing(emblems, art(ScaleBy.OVERALL_WIDTH, 500.0)).capital_height is None
    asked_for = letter_drawing(emblems, art(ScaleBy.CAPITAL_HEIGHT, 200.0))  # named as one by the user
    assert asked_for.capital_height == pytest.approx(200.0)
    assert Code.MEASURED_ON in {finding.code for finding in asked_for.findings}


def open_box(gap: float) -> Shape:
    corners = [(0.0, gap), (0.0, 50.0), (50.0, 50.0), (50.0, 0.0), (0.0, 0.0)]
    sides = tuple(Line(a, b) for a, b in itertools.pairwise(corners))
    return shape(Contour(sides, is_closed=False))


def test_an_open_line_is_told_with_gap_limit_place_and_way_out() -> None:
    """Drawn at half size: the gap is told as drawn, since that is what the limit is held against."""
    lettering = letter_drawing(
        drawing(open_box(0.7), shape(rectangle(10, 50, (60, 0)))), art(ScaleBy.OVERALL_HEIGHT, 100.0)
    )
    (finding,) = [f for f in lettering.findings if f.code == RegionCode.OPEN]
    assert 'open by 0.028" (0.7 mm) as drawn, more than the 0.004" (0.1 mm)' in finding.message
    assert "--join-gap 0.8mm" in finding.message
    assert finding.where == pytest.approx((-120.0, 0.7))  # the letter's corner is at (0, 0); twice the size drawn


def test_the_gap_told_is_the_one_to_the_nearest_loose_end() -> None:
    """Two halves of a box whose ends are 0.5 mm and 0.8 mm apart: 0.8 mm is what has to be joined."""
    left = [(49.6, 0.0), (0.0, 0.0), (0.0, 50.0), (49.75, 50.0)]
    right = [(50.4, 0.0), (100.0, 0.0), (100.0, 50.0), (50.25, 50.0)]
    halves = [
        shape(Contour(tuple(Line(a, b) for a, b in itertools.pairwise(half)), is_closed=False))
        for half in (left, right)
    ]
    lettering = letter_drawing(drawing(*halves, shape(rectangle(10, 50, (120, 0)))), art())
    told = [f for f in lettering.findings if f.code == RegionCode.OPEN]
    assert len(told) == 2
    for finding in told:
        assert "(0.8 mm) as drawn" in finding.message
        assert "--join-gap 0.9mm" in finding.message
        assert finding.where == pytest.approx((50.0 - 120.0, 0.0))


def test_a_wide_gap_is_for_the_drawing_to_close() -> None:
    lettering = letter_drawing(drawing(open_box(40.0), shape(rectangle(10, 50, (60, 0)))), art())
    (finding,) = [f for f in lettering.findings if f.code == RegionCode.OPEN]
    assert "join its ends in the drawing" in finding.message
    assert "--join-gap" not in finding.message


def test_swallowed_counters_are_one_warning_with_number_place_and_size() -> None:
    same_way_round = Shape(
        (rectangle(80, 80), rectangle(40, 30, (20, 20)), rectangle(80, 80, (100, 0)), rectangle(5, 5, (120, 20))),
        FillRule.NONZERO,
        Source("test.svg", "", ""),
    )
    lettering = letter_drawing(drawing(same_way_round), art(ScaleBy.OVERALL_HEIGHT, 160.0))
    (finding,) = [f for f in lettering.findings if f.code == RegionCode.REDUNDANT]
    assert finding.severity is Severity.WARNING
    assert finding.message.startswith("2 contours")
    assert format_both(80.0) + " x " + format_both(60.0) in finding.message
    assert finding.where == pytest.approx((80.0, 70.0))


@pytest.mark.parametrize("length", [1e7, -25.4])
def test_a_size_refused_is_told_in_both_units(length: float) -> None:
    with pytest.raises(JobError, match=re.escape(format_both(length))):
        letter_drawing(drawing(shape(rectangle(1, 1))), art(ScaleBy.OVERALL_HEIGHT, length))


@pytest.mark.parametrize("length", [0.0, -1.0, math.nan, math.inf, None])
def test_impossible_sizes(length: float | None) -> None:
    with pytest.raises(JobError, match="Sign"):
        letter_drawing(drawing(shape(rectangle(1, 1))), art(ScaleBy.OVERALL_WIDTH, length))


def test_missing_unit_tells_the_size_each_would_give() -> None:
    unknown = drawing(shape(rectangle(24, 12)), units=None)
    with pytest.raises(JobError) as caught:
        letter_drawing(unknown, art())
    assert 'in: 24" (609.6 mm) x 12" (304.8 mm)' in str(caught.value)
    assert 'mm: 0.945" (24 mm)' in str(caught.value)
    assert letter_drawing(unknown, art(units="in")).width == pytest.approx(609.6)
    assert letter_drawing(unknown, art(ScaleBy.OVERALL_WIDTH, 240.0)).height == pytest.approx(120)


def test_no_closed_shape() -> None:
    open_ = Contour((Line((0, 0), (10, 0)), Line((10, 0), (10, 5))), is_closed=False)
    with pytest.raises(ReadError, match="no closed shape"):
        letter_drawing(drawing(shape(open_)), art())


def test_doubtful_sizes() -> None:
    tiny = letter_drawing(drawing(shape(rectangle(2, 1))), art())
    assert Code.SIZE_DOUBTFUL in {finding.code for finding in tiny.findings}
    huge = letter_drawing(drawing(shape(rectangle(5, 20_000))), art())
    assert Code.SIZE_DOUBTFUL in {finding.code for finding in huge.findings}
    fine = letter_drawing(drawing(shape(rectangle(300, 609.6))), art())
    assert Code.SIZE_DOUBTFUL not in {finding.code for finding in fine.findings}


@pytest.mark.parametrize(("ratio", "words"), [(25.4, "inches read as millimetres"), (0.75, "72 points"), (10, "1:10")])
def test_ratio_of_a_mistaken_unit(ratio: float, words: str) -> None:
    lettering = letter_drawing(drawing(shape(rectangle(300, 24))), art(ScaleBy.OVERALL_HEIGHT, 24 * ratio))
    (finding,) = [f for f in lettering.findings if f.code == Code.SIZE_DOUBTFUL]
    assert words in finding.message


def test_letters_that_lie_over_each_other() -> None:
    counter_drawn_apart = letter_drawing(drawing(shape(circle((0, 0), 50)), shape(circle((0, 0), 20))), art())
    (finding,) = [f for f in counter_drawn_apart.findings if f.code == Code.LETTERS_OVERLAP]
    assert finding.where is not None
    assert "'1' (sign-01) and '2' (sign-02)" in finding.message
    assert "counter" in finding.message
    apart = letter_drawing(drawing(shape(rectangle(10, 10)), shape(rectangle(10, 10, (10, 0)))), art())
    assert Code.LETTERS_OVERLAP not in {f.code for f in apart.findings}
    inside_a_counter = drawing(shape(circle((0, 0), 50), circle((0, 0), 30)), shape(circle((0, 0), 20)))
    assert Code.LETTERS_OVERLAP not in {f.code for f in letter_drawing(inside_a_counter, art()).findings}


def test_a_file_in_inches_that_means_millimetres_is_told_the_size_it_would_have() -> None:
    inches = drawing(shape(rectangle(15_000, 609.6 * 25.4)), units="in")
    (said,) = [f for f in letter_drawing(inches, art()).findings if f.code == Code.SIZE_DOUBTFUL]
    assert 'in millimetres it would be 24" (609.6 mm)' in said.message


def test_specks_are_told_once() -> None:
    dirt = [shape(circle((100.0 * i, 400), 0.05 + 0.01 * i)) for i in range(20)]
    lettering = letter_drawing(drawing(shape(rectangle(80, 100)), *dirt), art())
    (said,) = [f for f in lettering.findings if f.code == Code.SPECKS]
    assert "20 letters are smaller than 0.118" in said.message
    assert "the largest of them 0.019" in said.message
    assert said.where is not None
    for fine in ([shape(rectangle(80, 100)), shape(rectangle(2, 50, (99, 0)))], dirt):
        assert Code.SPECKS not in {f.code for f in letter_drawing(drawing(*fine), art()).findings}


def test_a_layered_drawing_says_so_once() -> None:
    """Eight layers one on the other, and a pair apart from them: two sentences, not 29."""
    layers = [shape(circle((0, 0), 10.0 * size)) for size in range(3, 11)]
    pair = [shape(rectangle(50, 50, (500, 0))), shape(rectangle(50, 50, (520, 0)))]
    lettering = letter_drawing(drawing(*layers, *pair), art())
    one, two = [f for f in lettering.findings if f.code == Code.LETTERS_OVERLAP]
    assert "8 letters lie over each other in 28 places: '1' (sign-01), '2' (sign-02), '3' (sign-03)" in one.message
    assert "and 4 more; move them apart" in one.message
    assert one.where is not None
    assert "letters '9' (sign-09) and '10' (sign-10) lie over each other" in two.message
    assert two.where == pytest.approx((635, 125))


def test_stray_far_away_is_told() -> None:
    row = [shape(rectangle(80, 100, (100.0 * i, 0))) for i in range(3)]
    lettering = letter_drawing(drawing(*row, shape(rectangle(1, 1, (9000, 0)))), art())
    (finding,) = [f for f in lettering.findings if f.code == Code.STRAY]
    assert "'4'" in finding.message
    assert Code.STRAY not in {f.code for f in letter_drawing(drawing(*row), art()).findings}


def test_places_of_findings_move_with_the_letters() -> None:
    open_ = Contour((Line((10, 10), (20, 10)), Line((20, 10), (20, 15))), is_closed=False)
    lettering = letter_drawing(
        drawing(shape(rectangle(100, 50, (-10, -10))), shape(open_)), art(ScaleBy.OVERALL_WIDTH, 200.0)
    )
    (finding,) = [f for f in lettering.findings if "open" in f.code]
    assert finding.where is not None
    assert finding.where == pytest.approx((50, 45))
    assert format_both(math.hypot(10, 5)) + " as drawn" in finding.message


def test_report_for_machines_and_people() -> None:
    ring = shape(circle((50, 50), 50), circle((50, 50), 20), name="O")
    read = drawing(ring, shape(rectangle(80, 100, (150, 0)), name="H"))
    lettering = letter_drawing(read, art())
    data = reading_as_json(read, lettering)
    assert data["width"] == 230
    assert data["width_in"] == pytest.approx(230 / 25.4)
    assert data["segments"]["drawn"] == {"lines": 4, "arcs": 4, "curves": 0}
    assert data["segments"]["fitted"] == {"lines": 4, "arcs": 4, "curves": 0}
    assert [letter["counters"] for letter in data["letters"]] == [1, 0]
    assert data["letters"][0]["perimeter"] == pytest.approx(140 * math.pi)
    text = reading_as_text(read, lettering)
    assert "2 letters" in text
    assert "1 counter" in text
    assert "100 mm" in text


def test_fitted_counts_hold_no_curves() -> None:
    assert segment_counts([circle((0, 0), 1), rectangle(1, 1)]) == {"lines": 4, "arcs": 2, "curves": 0}


def test_text_without_size_asks_for_one() -> None:
    character = dataclasses.replace(shape(rectangle(500, 700), name="H"), is_character=True)
    words = Drawing((character,), None, (), 700.0)
    with pytest.raises(AppError, match="give a capital height"):
        letter_drawing(words, art())


def test_letters_of_a_file_are_named_by_what_they_say() -> None:
    row = drawing(*(shape(rectangle(10, 20, (x, 0)), name=f"path{x}") for x in (40, 0, 20)))
    said = dataclasses.replace(art(), reads="O K!")
    lettering = letter_drawing(row, said)
    assert [letter.name for letter in lettering.letters] == ["O", "K", "!"]  # in reading order, not the file's
    assert Code.READS_OTHERWISE not in {finding.code for finding in lettering.findings}


def test_words_of_another_length_leave_the_files_names_and_are_told() -> None:
    row = drawing(*(shape(rectangle(10, 20, (x, 0)), name=f"path{x}") for x in (0, 20)))
    lettering = letter_drawing(row, dataclasses.replace(art(), reads="OPEN"))
    assert [letter.name for letter in lettering.letters] == ["path0", "path20"]
    told = [finding for finding in lettering.findings if finding.code == Code.READS_OTHERWISE]
    assert len(told) == 1
    assert "4 letters, but has 2" in told[0].message
