"""Small SVG files whose right answer can be worked out by hand."""

from __future__ import annotations

import gzip
import math

import pytest

from app.artwork.drawing import Drawing
from app.artwork.letters import letter_drawing
from app.artwork.notes import Code
from app.artwork.options import ReadOptions
from app.artwork.svg import read_svg
from app.artwork.svg_values import parse_transform
from app.errors import AppError
from app.job.document import Artwork
from geometry.arcs import arc_radius
from geometry.curve import Arc
from geometry.findings import Severity
from geometry.measure import Bounds, contour_area, contour_bounds

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '


def read(body: str, page: str = 'width="100mm" height="100mm" viewBox="0 0 100 100"', **options: object) -> Drawing:
    return read_svg(f"{HEAD}{page}>{body}</svg>".encode(), "test.svg", options=ReadOptions(**options))


def box(drawing: Drawing, index: int = 0) -> tuple[float, float, float, float]:
    total: Bounds | None = None
    for contour in drawing.shapes[index].contours:
        bounds = contour_bounds(contour)
        total = bounds if total is None else total.union(bounds)
    assert total is not None
    return (total.min_x, total.min_y, total.max_x, total.max_y)


def codes(drawing: Drawing) -> set[str]:
    return {finding.code for finding in drawing.findings}


def test_page_in_mm_with_y_up() -> None:
    drawing = read('<rect x="10" y="20" width="30" height="5"/>')
    assert drawing.units == "mm"
    assert box(drawing) == pytest.approx((10, 75, 40, 80))
    assert drawing.findings == ()


@pytest.mark.parametrize(
    ("page", "width"),
    [
        # CSS Values 3, 6.2: 1in = 2.54cm = 25.4mm = 72pt = 6pc = 96px; 1Q = 1/4 mm.
        ('width="2in" height="2in" viewBox="0 0 10 10"', 25.4),
        ('width="10cm" height="10cm" viewBox="0 0 10 10"', 50.0),
        ('width="72pt" height="72pt" viewBox="0 0 10 10"', 12.7),
        ('width="6pc" height="6pc" viewBox="0 0 10 10"', 12.7),
        ('width="40Q" height="40Q" viewBox="0 0 10 10"', 5.0),
        ('width="96px" height="96px" viewBox="0 0 10 10"', 12.7),
        ('width="96" height="96" viewBox="0 0 10 10"', 12.7),
        ('width="2in" viewBox="0 0 10 10"', 25.4),
        ('width="2in" height="2in"', 5 * 25.4 / 96),
    ],
)
def test_every_unit_of_the_page(page: str, width: float) -> None:
    left, _, right, _ = box(read('<rect width="5" height="5"/>', page))
    assert right - left == pytest.approx(width, rel=1e-12)


def test_pixels_are_said_to_be_a_guess() -> None:
    drawing = read('<rect width="5" height="5"/>', 'width="10" height="10"')
    assert drawing.units == "px"
    assert Code.UNIT_ASSUMED in codes(drawing)


def test_no_page_size_means_no_unit() -> None:
    drawing = read('<rect width="5" height="5"/>', 'viewBox="0 0 10 10"')
    assert drawing.units is None
    assert box(drawing) == (0, 5, 5, 10)
    told = read('<rect width="5" height="5"/>', 'viewBox="0 0 10 10"', units="in")
    assert told.units == "in"
    assert box(told) == pytest.approx((0, 127, 127, 254))


def test_stated_unit_is_overridden_with_a_finding() -> None:
    drawing = read('<rect width="5" height="5"/>', 'width="10mm" height="10mm" viewBox="0 0 10 10"', units="in")
    assert box(drawing) == pytest.approx((0, 127, 127, 254))
    assert Code.UNIT_OVERRIDDEN in codes(drawing)


@pytest.mark.parametrize(
    ("text", "point", "image"),
    [
        ("translate(10,20)", (1, 2), (11, 22)),
        ("translate(10)", (1, 2), (11, 2)),
        ("scale(2) translate(10 20)", (1, 2), (22, 44)),
        ("translate(10 20) scale(2)", (1, 2), (12, 24)),
        ("scale(2,-3)", (1, 2), (2, -6)),
        ("rotate(90)", (1, 2), (-2, 1)),
        ("rotate(90 10 10)", (10, 0), (20, 10)),
        ("rotate(90, 10, 10)", (20, 10), (10, 20)),
        ("skewX(45)", (1, 2), (3, 2)),
        ("skewY(45)", (1, 2), (1, 3)),
        ("matrix(1 2 3 4 5 6)", (1, 1), (9, 12)),
        # SVG 1.1, 7.5: "translate(-10,-20) scale(2) rotate(45) translate(5,10)" equals the nested groups.
        ("translate(-10,-20),scale(2)\trotate(45)translate(5,10)", (-5, -10), (-10, -20)),
        ("", (1, 2), (1, 2)),
    ],
)
def test_transform_lists(text: str, point: tuple[float, float], image: tuple[float, float]) -> None:
    assert parse_transform(text).apply(point) == pytest.approx(image, abs=1e-12)


def test_nested_transforms_and_uses() -> None:
    drawing = read(
        '<defs><g id="pair"><rect id="a" width="2" height="2"/><use xlink:href="#a" x="4"/></g></defs>'
        '<g transform="translate(10 0)"><g transform="scale(2)"><use href="#pair" x="5" y="1"/></g></g>'
    )
    assert [box(drawing, i) for i in range(2)] == [(20, 94, 24, 98), (28, 94, 32, 98)]


def test_view_box_and_aspect() -> None:
    # SVG 1.1, 7.8: a 10 x 10 box in a 100 x 50 page: meet scales by 5 and centres; slice by 10; none stretches.
    page = 'width="100mm" height="50mm" viewBox="0 0 10 10" preserveAspectRatio="{}"'
    square = '<rect width="10" height="10"/>'
    assert box(read(square, page.format("xMidYMid meet"))) == pytest.approx((25, 0, 75, 50))
    assert box(read(square, page.format("xMinYMin"))) == pytest.approx((0, 0, 50, 50))
    assert box(read(square, page.format("xMaxYMax meet"))) == pytest.approx((50, 0, 100, 50))
    assert box(read(square, page.format("xMidYMid slice"))) == pytest.approx((0, -25, 100, 75))
    assert box(read(square, page.format("none"))) == pytest.approx((0, 0, 100, 50))


def test_symbol_and_nested_svg_have_viewports() -> None:
    drawing = read(
        '<symbol id="s" viewBox="0 0 10 20"><rect width="10" height="20"/></symbol>'
        '<use href="#s" x="10" y="10" width="40" height="40"/>'
        '<svg x="50" y="50" width="20" height="20" viewBox="0 0 2 2"><rect width="50%" height="100%"/></svg>'
    )
    assert box(drawing, 0) == pytest.approx((20, 50, 40, 90))
    assert box(drawing, 1) == pytest.approx((50, 30, 60, 50))


def test_percentages_and_font_relative_lengths() -> None:
    drawing = read(
        '<rect width="50%" height="10%"/><circle cx="50" cy="50" r="10%"/>'
        '<g font-size="4"><rect width="2em" height="2ex"/></g>',
        'width="100mm" height="50mm" viewBox="0 0 100 50"',
    )
    assert box(drawing, 0) == pytest.approx((0, 45, 50, 50))
    left, _, right, _ = box(drawing, 1)
    # SVG 1.1, 7.10: a percentage of neither width nor height is of sqrt((w² + h²) / 2).
    assert right - left == pytest.approx(0.2 * math.sqrt((100**2 + 50**2) / 2))
    assert box(drawing, 2) == pytest.approx((0, 46, 8, 50))


def test_circle_stays_two_arcs_and_rounded_corners_stay_arcs() -> None:
    drawing = read('<circle cx="50" cy="50" r="20"/><rect width="30" height="20" rx="4"/>')
    halves = drawing.shapes[0].contours[0].segments
    assert all(isinstance(half, Arc) and arc_radius(half) == pytest.approx(20) for half in halves)
    arcs = [s for s in drawing.shapes[1].contours[0].segments if isinstance(s, Arc)]
    assert [arc_radius(arc) for arc in arcs] == pytest.approx([4.0] * 4)
    assert abs(contour_area(drawing.shapes[1].contours[0])) == pytest.approx(600 - (4 - math.pi) * 16)


def test_ellipses() -> None:
    drawing = read('<ellipse cx="50" cy="50" rx="20" ry="10"/><rect x="10" width="40" height="20" rx="9" ry="3"/>')
    assert abs(contour_area(drawing.shapes[0].contours[0])) == pytest.approx(200 * math.pi, abs=0.01)
    assert abs(contour_area(drawing.shapes[1].contours[0])) == pytest.approx(800 - (4 - math.pi) * 27, abs=0.01)


def test_stretched_circle_becomes_an_ellipse() -> None:
    drawing = read('<circle cx="10" cy="10" r="10" transform="scale(3 1)"/>')
    assert abs(contour_area(drawing.shapes[0].contours[0])) == pytest.approx(300 * math.pi, abs=0.02)
    assert box(drawing) == pytest.approx((0, 80, 60, 100), abs=2e-4)


@pytest.mark.parametrize(("rule", "area"), [("nonzero", 400.0), ("evenodd", 300.0)])
def test_fill_rules(rule: str, area: float) -> None:
    ring = f'<path fill-rule="{rule}" d="M0 0H20V20H0zM5 5H15V15H5z"/>'
    lettering = letter_drawing(read(ring), Artwork("a", "a", "b"))
    (letter,) = lettering.letters
    total = sum(contour_area(c) for region in letter.regions for c in (region.outer, *region.holes))
    assert total == pytest.approx(area)


def test_cascade() -> None:
    # CSS: attribute < rule < more specific rule < style attribute < !important.
    drawing = read(
        "<style>rect{fill:none} .shown{fill:red} #top{fill:none} .must{fill:blue!important} g rect.deep{fill:none}"
        "@media print{.printed{fill:green}} @media tv{.tv{fill:red}}</style>"
        '<rect id="a" width="1" height="1" fill="red"/>'
        '<rect id="b" class="shown" width="2" height="1"/>'
        '<rect id="top" class="shown" width="3" height="1"/>'
        '<rect id="d" width="4" height="1" style="fill:black"/>'
        '<rect id="e" class="must" width="5" height="1" style="fill:none"/>'
        '<g><rect class="deep shown" width="6" height="1"/></g>'
        '<rect class="printed" width="7" height="1"/><rect class="tv" width="8" height="1"/>'
    )
    assert [box(drawing, i)[2] for i in range(len(drawing.shapes))] == [2, 4, 5, 7]


def test_what_is_not_visible_is_left_out_and_counted() -> None:
    drawing = read(
        '<rect width="1" height="1"/>'
        '<g display="none"><rect width="2" height="1"/><rect width="2" height="1"/></g>'
        '<g visibility="hidden"><rect width="3" height="1"/><rect width="4" height="1" visibility="visible"/></g>'
        '<rect width="5" height="1" fill="none"/><rect width="6" height="1" opacity="0"/>'
    )
    assert [box(drawing, i)[2] for i in range(len(drawing.shapes))] == [1, 4]
    (finding,) = [f for f in drawing.findings if f.code == Code.NOT_VISIBLE]
    assert "2 objects" in finding.message
    assert "3 rects" in finding.message


def test_text_images_clips_and_masks_are_said() -> None:
    drawing = read(
        "<text>ABC</text><text>DEF</text><image href='x.png'/>"
        '<clipPath id="c"><rect width="1" height="1"/></clipPath>'
        '<g clip-path="url(#c)"><rect width="5" height="5"/></g><rect mask="url(#m)" x="9" width="5" height="5"/>'
        '<rect x="19" width="5" height="5" fill="url(#gradient)"/>'
    )
    assert len(drawing.shapes) == 3
    assert {
        Code.TEXT_NOT_OUTLINES,
        Code.NOT_GEOMETRY,
        Code.CLIP_IGNORED,
        Code.MASK_IGNORED,
        Code.EFFECT_IGNORED,
    } <= codes(drawing)
    (text,) = [f for f in drawing.findings if f.code == Code.TEXT_NOT_OUTLINES]
    assert text.severity is Severity.ERROR
    assert text.message.startswith("2 texts not read")


@pytest.mark.parametrize(
    ("clip", "effect"),
    [
        ('<rect width="100" height="100"/>', ""),  # the page's frame, as PDF converters write it round everything
        ('<circle cx="50" cy="50" r="60"/>', ""),
        ('<rect width="15" height="100"/>', Code.CLIP_IGNORED),
        ('<rect x="60" width="15" height="100"/>', Code.NOT_VISIBLE),
        ('<path clip-rule="evenodd" d="M0 0H100V100H0zM5 5H50V50H5z"/>', Code.NOT_VISIBLE),
        ("<text>A</text>", Code.CLIP_IGNORED),
        ("", Code.NOT_VISIBLE),
    ],
)
def test_clip_paths_that_leave_a_shape_alone_say_nothing(clip: str, effect: str) -> None:
    drawing = read(
        f'<clipPath id="c">{clip}</clipPath><g clip-path="url(#c)"><rect x="10" y="10" width="20" height="20"/></g>'
        '<rect x="80" y="80" width="1" height="1"/>'
    )
    assert codes(drawing) == ({effect} if effect else set())
    assert len(drawing.shapes) == (1 if effect == Code.NOT_VISIBLE else 2)


def test_strokes_without_fill_are_centre_lines() -> None:
    drawing = read(
        '<circle cx="50" cy="50" r="20" fill="none" stroke="black" stroke-width="3"/>'
        '<path d="M0 0H10" fill="none" stroke="black"/>'
    )
    assert box(drawing, 0) == pytest.approx((30, 30, 70, 70))
    assert not drawing.shapes[1].contours[0].is_closed
    assert Code.STROKE_AS_LINE in codes(drawing)


def test_open_path_is_closed_as_its_fill_shows_it() -> None:
    drawing = read('<path d="M0 0H10V10"/><polyline points="0,0 10,0 10,10"/>')
    assert all(shape.contours[0].is_closed for shape in drawing.shapes)
    assert abs(contour_area(drawing.shapes[0].contours[0])) == 50
    assert Code.CLOSED_BY_FILL in codes(drawing)


def test_layers_by_label_and_id_and_choice() -> None:
    body = (
        '<g id="g1" xmlns:x="urn:any" x:label="Letters"><rect width="1" height="1"/></g>'
        '<g id="Panel"><rect width="2" height="1"/></g>'
        '<g id="Notes" style="display:none"><rect width="3" height="1"/></g>'
    )
    every = read(body)
    assert every.layers == ("Letters", "Panel", "Notes")
    assert [shape.source.layer for shape in every.shapes] == ["Letters", "Panel"]
    assert Code.LAYER_SKIPPED in codes(every)
    chosen = read(body, layers=("Notes",))
    assert [box(chosen, i)[2] for i in range(len(chosen.shapes))] == [3]
    with pytest.raises(AppError, match="no layer 'Cut'; its layers are: Letters, Panel, Notes"):
        read(body, layers=("Cut",))


def test_object_ids_come_along() -> None:
    drawing = read('<g id="L"><g id="R"><path d="M0 0H9V9z"/></g><path id="S" d="M20 0H29V9z"/></g>')
    assert [shape.source.object_id for shape in drawing.shapes] == ["R", "S"]


def test_switch_shows_the_first_that_passes() -> None:
    drawing = read(
        '<switch><rect requiredExtensions="urn:x" width="1" height="1"/><rect width="2" height="1"/>'
        '<rect width="3" height="1"/></switch>'
    )
    assert [box(drawing, i)[2] for i in range(len(drawing.shapes))] == [2]


def test_packed_and_other_encodings() -> None:
    text = f'<?xml version="1.0" encoding="UTF-16"?>{HEAD} width="9mm" height="9mm"><rect width="9" height="9"/></svg>'
    plain = read_svg(text.replace("UTF-16", "UTF-8").encode(), "a.svg")
    assert read_svg(text.encode("utf-16"), "a.svg") == plain
    assert read_svg(gzip.compress(text.replace("UTF-16", "UTF-8").encode()), "a.svg") == plain


def test_outside_references_are_not_opened_and_said() -> None:
    drawing = read(
        '<style>@import url("http://example.invalid/a.css"); rect{fill:red}</style>'
        '<use href="other.svg#a"/><use href="#nothing"/><rect width="1" height="1"/>'
    )
    assert {Code.OUTSIDE_REFERENCE, Code.MISSING_REFERENCE} <= codes(drawing)


def test_small_internal_entities_are_written_out() -> None:
    # Some drawing programs shorten namespaces this way.
    data = (
        '<!DOCTYPE svg [<!ENTITY ns "http://www.w3.org/2000/svg"><!ENTITY w "7">]>'
        '<svg xmlns="&ns;" width="9mm" height="9mm" viewBox="0 0 9 9"><rect width="&w;" height="1"/></svg>'
    )
    assert box(read_svg(data.encode(), "a.svg"))[2] == pytest.approx(7)


def test_far_out_and_bad_values_leave_the_rest() -> None:
    drawing = read(
        '<rect width="5" height="5"/><circle r="1e300"/><path d="M0 0H1e200V5z"/><rect width="-1" height="5"/>'
        '<rect width="abc" height="5"/><g transform="scale(nan)"><rect width="6" height="1"/></g>'
        '<g transform="scale(0)"><rect width="7" height="1"/></g><circle r="NaN"/><path d="M0 0H8V8zL"/>'
    )
    assert [box(drawing, i)[2] for i in range(len(drawing.shapes))] == [5, 6, 8]
    bad = [f for f in drawing.findings if f.code in (Code.BAD_VALUE, Code.FAR_OUT)]
    assert len(bad) == 7


@pytest.mark.parametrize(
    ("origin", "point"),
    [
        ("20px 10px", (20, 10)),
        ("20 10", (20, 10)),
        ("50% 25%", (50, 10)),
        ("center", (50, 20)),
        ("right bottom", (100, 40)),
        ("bottom left", (0, 40)),
        ("top", (50, 0)),
        ("left", (0, 20)),
    ],
)
def test_transform_origin(origin: str, point: tuple[float, float]) -> None:
    """CSS Transforms 1: translate to the origin, transform, translate back; percentages of the view box."""
    x, y = point
    page = 'width="100mm" height="40mm" viewBox="0 0 100 40"'
    rect = '<rect x="30" y="20" width="7" height="3"'
    turned = read(f'{rect} transform="rotate(30) scale(2)" style="transform-origin:{origin}"/>', page)
    by_hand = read(f'{rect} transform="translate({x} {y}) rotate(30) scale(2) translate({-x} {-y})"/>', page)
    for one, other in zip(turned.shapes[0].contours[0].segments, by_hand.shapes[0].contours[0].segments, strict=True):
        assert one.start == pytest.approx(other.start)


def test_transforms_about_the_own_box_are_told() -> None:
    drawing = read('<rect width="7" height="3" transform="rotate(30)" style="transform-box:fill-box"/>')
    assert Code.BAD_VALUE in codes(drawing)


def test_nested_viewports_clip() -> None:
    """SVG 1.1, 14.3.3: a nested svg and a symbol hide what is outside, unless their overflow is visible."""
    inside, across, outside = (f'<rect x="{x}" width="4" height="4"/>' for x in (1, 8, 20))
    for style, effects in (("", (set(), {Code.CLIP_IGNORED}, {Code.NOT_VISIBLE})), ("overflow:visible", (set(),) * 3)):
        for body, effect in zip((inside, across, outside), effects, strict=True):
            drawing = read(f'<svg width="10" height="10" style="{style}">{body}</svg><circle r="2" cx="5" cy="5"/>')
            assert codes(drawing) & {Code.CLIP_IGNORED, Code.NOT_VISIBLE} == effect
            used = read(
                f'<defs><symbol id="s" style="{style}">{body}</symbol></defs><use href="#s" width="10" height="10"/>'
                '<circle r="2" cx="5" cy="5"/>'
            )
            assert codes(used) & {Code.CLIP_IGNORED, Code.NOT_VISIBLE} == effect


def test_markers_are_told() -> None:
    body = '<marker id="m"><path d="M0 0h9v9z"/></marker><path d="M0 0h9v9z" style="marker-end:url(#m)"/>'
    assert Code.MARKER_LEFT in codes(read(body))
    assert Code.MARKER_LEFT not in codes(read(body.replace("url(#m)", "none")))


def test_white_shapes_among_others_are_told() -> None:
    """A badge whose letter is an opening, drawn as white on top: viewers show one thing, a cutter another."""
    drawing = read(
        '<circle cx="20" cy="20" r="9"/><path fill="#fff" d="M16 16h8v8h-8z"/><rect fill="white" width="1"/>'
    )
    (said,) = [f for f in drawing.findings if f.code == Code.WHITE_FILL]
    assert "1 path filled white read as letters like all others" in said.message
    assert "subtract it from the shape below" in said.message
    for same in ("white", "#FFFFFF", "rgb(255,255,255)", "rgb(100%, 100%, 100%)", "hsl(0, 0%, 100%)"):
        assert Code.WHITE_FILL in codes(read(f'<circle r="9"/><path fill="{same}" d="M16 16h8v8h-8z"/>'))
    for other in ("#fffffe", "none", "rgba(255,255,255,.5)", "url(#a) white"):
        assert Code.WHITE_FILL not in codes(read(f'<circle r="9"/><path fill="{other}" d="M16 16h8v8h-8z"/>'))
    assert Code.WHITE_FILL not in codes(read('<g fill="white"><circle r="9"/><path d="M16 16h8v8h-8z"/></g>'))


def test_a_white_page_is_no_letter_and_what_it_covers_is_told() -> None:
    page = '<rect width="100%" height="100%" fill="white"/>'
    under = read(f'{page}<path d="M16 16h8v8h-8z"/>')
    assert (len(under.shapes), codes(under)) == (1, {Code.BACKGROUND})
    over = read(f'<path d="M16 16h8v8h-8z"/><circle r="9"/>{page}<rect width="9" height="9"/>')
    assert len(over.shapes) == 3
    (said,) = [f for f in over.findings if f.code == Code.COVERED]
    assert "2 objects read though a white box as large as the page hides them" in said.message


def test_a_shape_painted_twice_is_one() -> None:
    drawing = read(
        '<path d="M16 16h8v8h-8z"/><path d="M24 16v8h-8v-8z"/><rect x="16" y="16" width="8" height="8.02"/>'
        '<path fill="none" stroke="black" d="M16 16h8v8h-8z"/>'
    )
    assert len(drawing.shapes) == 3  # the one, the slightly larger one, and a line that is no fill
    (said,) = [f for f in drawing.findings if f.code == Code.DUPLICATE]
    assert "1 path dropped: drawn twice in the same place" in said.message
