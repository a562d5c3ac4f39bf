"""What is on the board: pixels probed in a part, in a hole, on bare stock; zoom, pan, hover, select."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QWheelEvent
from PySide6.QtWidgets import QApplication

from app.fabrication.part import Role
from app.job.document import DisplayUnits
from app.stock.book import KeepOut
from app.window.drawing_view import DrawingView, round_step
from app.window.parts_picture import Arrangement
from app.window.sheet_picture import margin_path, sheet_picture
from app.window.theme import DARK, LIGHT, ROLE_COLOURS, ThemeChoice
from app.window.thumbnail import thumbnail
from tests.app.window.stand_ins import Desk, made, make_plan, planned


def colour_at(view: DrawingView, x: float, y: float) -> str:
    """Colour on screen of a place of the picture (mm)."""
    spot = view.viewportTransform().map(QPointF(x, y))
    picture = view.viewport().grab().toImage()
    ratio = picture.devicePixelRatio()
    return picture.pixelColor(round(spot.x() * ratio), round(spot.y() * ratio)).name()


def point_of(view: DrawingView, x: float, y: float) -> QPoint:
    return view.viewportTransform().map(QPointF(x, y)).toPoint()


def near(colour: str, wanted: str, slack: int = 4) -> bool:
    one, other = QColor(colour), QColor(wanted)
    return all(abs(a - b) <= slack for a, b in zip(one.getRgb()[:3], other.getRgb()[:3], strict=True))


@pytest.fixture
def sheets(open_desk: Desk, qtbot):
    """The board with sheet 1: two rings and two Ls of aluminium, from (50, 50) and (600, 50) up."""
    make_plan(open_desk, qtbot)
    return open_desk.window.sheets


# Pixels


def test_letter_is_dark_its_counter_is_not_and_it_stands_upright(open_desk: Desk):
    view = open_desk.window.artwork.view
    # The artwork's lower left is at (0, -400); the O spans 0 to 400 with its counter about (200, -200).
    assert near(colour_at(view, 50, -200), LIGHT.letter)
    assert not near(colour_at(view, 200, -200), LIGHT.letter)
    # L: material at its lower right, none at its upper right.
    assert near(colour_at(view, 460 + 200, -400 + 45), LIGHT.letter)
    assert not near(colour_at(view, 460 + 200, -400 + 300), LIGHT.letter)


@pytest.mark.parametrize("turned", [True, False])
def test_sheet_shows_part_hole_bare_stock_and_bench(sheets, turned):
    sheets.view.turn(turned)
    view = sheets.view
    # The ring's band, 17 mm from its outer edge: clear of the label, which stands midway
    assert near(colour_at(view, 50 + 200 + 129, 50 + 200 + 129), ROLE_COLOURS[Role.BACKER])
    assert near(colour_at(view, 50 + 200, 50 + 200), LIGHT.sheet)  # ring's hole
    assert near(colour_at(view, 600 + 45, 50 + 300), ROLE_COLOURS[Role.BACKER])  # the L's upright
    assert near(colour_at(view, 600 + 180, 50 + 300), LIGHT.sheet)  # beside it
    assert near(colour_at(view, 500, 2300), LIGHT.sheet)
    assert near(colour_at(view, 500, 2470), LIGHT.bench, 14)  # past the sheet's end (2438.4 mm), grid or not


def test_offcut_and_keep_out_are_hatched(sheets):
    picture = sheets.view.viewport().grab().toImage()

    def colours(x0, y0, x1, y1):
        one, other = point_of(sheets.view, x0, y0), point_of(sheets.view, x1, y1)
        xs = range(min(one.x(), other.x()), max(one.x(), other.x()))
        ys = range(min(one.y(), other.y()), max(one.y(), other.y()))
        return {picture.pixelColor(x, y).name() for x in xs for y in ys}

    assert len(colours(100, 1300, 300, 1500)) > 1
    assert len(colours(20, 2020, 80, 2180)) > 1
    assert colours(400, 2050, 700, 2350) == {LIGHT.sheet.lower()}


def test_roles_have_colours_of_their_own(open_desk: Desk, qtbot):
    open_desk.window.go(1)
    view = open_desk.window.parts.view
    seen = set()
    for thing in view.picture.things:
        place = thing.mapToScene(QPointF(15, 320) if "sign-2" in thing.key else QPointF(329, 329))
        seen.add(colour_at(view, place.x(), place.y()))
    assert len(seen) == 2
    assert all(any(near(one, ROLE_COLOURS[role]) for role in (Role.BACKER, Role.FACE)) for one in seen)


def test_hidden_role_is_gone_from_the_board(open_desk: Desk):
    open_desk.window.go(1)
    place = open_desk.window.parts
    assert len(place.view.picture.things) == 4
    place.legend.rows[Role.FACE].box.setChecked(False)
    assert {thing.key for thing in place.view.picture.things} == {"sign-1-backer", "sign-2-backer"}


def test_parts_in_place_stand_where_their_letters_do(open_desk: Desk):
    open_desk.window.go(1)
    place = open_desk.window.parts
    place.arrange(Arrangement.IN_PLACE)
    ell = place.view.picture.thing("sign-2-face").area()
    assert (ell.left(), ell.top()) == (pytest.approx(460.0), pytest.approx(-400.0))


def test_dark_colours_repaint_the_board_without_a_new_picture(open_desk: Desk):
    view = open_desk.window.artwork.view
    before = view.picture
    open_desk.window.theme.choose(ThemeChoice.DARK)
    QApplication.processEvents()
    assert view.picture is before
    assert near(colour_at(view, 50, -200), DARK.letter)


# Moving about


def test_wheel_zooms_about_the_cursor(open_desk: Desk):
    view = open_desk.window.artwork.view
    at = QPointF(point_of(view, 60, -120))
    held, scale = view._to_scene(at), view.scale_px
    for _ in range(5):
        wheel = QWheelEvent(
            at, view.viewport().mapToGlobal(at), QPoint(), QPoint(0, 120), Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        view.wheelEvent(wheel)
    assert view.scale_px == pytest.approx(scale * 1.2**5)
    now = view._to_scene(at)
    assert math.hypot(now.x() - held.x(), now.y() - held.y()) * view.scale_px < 5.0  # scroll bars count whole pixels


def test_zoom_has_ends(open_desk: Desk):
    view = open_desk.window.artwork.view
    for _ in range(200):
        view.zoom(1.5)
    assert view.scale_px <= 400.0
    for _ in range(200):
        view.zoom(1 / 1.5)
    assert view.picture.bounds.width() * view.scale_px > 20


def test_drag_pans_and_selects_nothing(open_desk: Desk, qtbot):
    view = open_desk.window.artwork.view
    view.zoom(2.0)
    start = view.viewport().rect().center()
    before = view._to_scene(QPointF(start))
    qtbot.mousePress(view.viewport(), Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(view.viewport(), start + QPoint(20, 10))
    qtbot.mouseMove(view.viewport(), start + QPoint(60, 30))
    qtbot.mouseRelease(view.viewport(), Qt.MouseButton.LeftButton, pos=start + QPoint(60, 30))
    after = view._to_scene(QPointF(start + QPoint(60, 30)))
    assert (after.x(), after.y()) == (pytest.approx(before.x(), abs=2), pytest.approx(before.y(), abs=2))
    assert view.selection is None


def test_fit_key_shows_the_whole(open_desk: Desk, qtbot):
    view = open_desk.window.artwork.view
    fitted = view.scale_px
    view.zoom(4.0)
    open_desk.window.actions_by_id["fit"].trigger()
    assert view.scale_px == pytest.approx(fitted)


def test_fitted_picture_stays_fitted_when_the_window_grows(open_desk: Desk, qtbot):
    view = open_desk.window.artwork.view
    small = view.scale_px
    open_desk.window.resize(1600, 1000)
    QApplication.processEvents()
    assert view.scale_px > small


def test_hover_tells_and_click_selects_the_material_not_the_hole(sheets, qtbot):
    view = sheets.view
    told = []
    view.hovered.connect(told.append)
    qtbot.mouseMove(view.viewport(), point_of(view, 50 + 40, 50 + 200))
    assert told[-1].key == "sign-1-backer#0"
    assert "O backer" in view.viewport().toolTip()
    assert '15.748" × 15.748"' in view.viewport().toolTip()  # 400 mm
    qtbot.mouseMove(view.viewport(), point_of(view, 50 + 200, 50 + 200))
    assert told[-1] is None
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=point_of(view, 600 + 45, 500 + 300))
    assert view.selection.key == "sign-2-backer#1"
    facts = dict(sheets.selected_facts.facts)
    assert facts["Copy"] == "2 of 2"
    assert facts["Height"] == '15.748" (400 mm)'
    assert sheets.selected.isVisibleTo(sheets)
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=point_of(view, 500, 2300))
    assert view.selection is None
    assert not sheets.selected.isVisibleTo(sheets)


def test_keys_select_one_thing_after_the_other(sheets, qtbot):
    view = sheets.view
    view.setFocus()
    for _ in range(2):
        qtbot.keyClick(view, Qt.Key.Key_Period)
    assert view.selection is view.picture.things[1]
    qtbot.keyClick(view, Qt.Key.Key_Comma)
    assert view.selection is view.picture.things[0]


def test_selection_outlives_a_better_plan(open_desk: Desk, qtbot):
    open_desk.window.plan()
    first = open_desk.planner.gain()
    qtbot.waitUntil(lambda: open_desk.session.planning.plan is first)
    view = open_desk.window.sheets.view
    view.select(view.picture.thing("sign-1-backer#1"))
    better = open_desk.planner.gain(x=20.0)
    qtbot.waitUntil(lambda: open_desk.session.planning.plan is better)
    assert view.selection.key == "sign-1-backer#1"
    assert view.selection.area().left() == pytest.approx(70.0, abs=0.1)


def test_cursor_is_told_in_the_sheets_own_frame_and_the_jobs_units(sheets, qtbot):
    sheets.view.turn(True)
    qtbot.mouseMove(sheets.view.viewport(), point_of(sheets.view, 254.0, 1270.0))
    words = sheets.strip.cursor.text().replace("x ", "").replace("y ", "").replace("″", "").split()
    slack = 1.0 / sheets.view.scale_px / 25.4 + 0.01
    assert [float(word) for word in words] == [pytest.approx(10.0, abs=slack), pytest.approx(50.0, abs=slack)]


# Scale bar


@pytest.mark.parametrize(
    ("least", "units", "wanted"),
    [
        (3.0, DisplayUnits.MILLIMETRES, 5.0),
        (100.0, DisplayUnits.MILLIMETRES, 100.0),
        (101.0, DisplayUnits.MILLIMETRES, 200.0),
        (3.0, DisplayUnits.INCHES, 25.4 / 8),
        (20.0, DisplayUnits.INCHES, 25.4),
        (200.0, DisplayUnits.INCHES, 12 * 25.4),
        (4000.0, DisplayUnits.INCHES, 240 * 25.4),
    ],
)
def test_scale_bar_has_a_round_length(least, units, wanted):
    assert round_step(least, units) == pytest.approx(wanted)


def test_scale_bar_is_true_to_the_drawing(sheets):
    bar = sheets.strip.bar
    for factor in (1.0, 2.7, 0.2):
        sheets.view.zoom(factor)
        assert 64 <= bar.length() * sheets.view.scale_px <= 64 * 2.6


def test_scale_bar_leaves_room_for_its_words_in_a_narrow_window(sheets):
    bar = sheets.strip.bar
    bar.setFixedWidth(115)
    words = bar.fontMetrics().horizontalAdvance('120 1/2"')
    for factor in (1.0, 2.7, 0.2):
        sheets.view.zoom(factor)
        assert bar.length() * sheets.view.scale_px + 8 + words <= 115


def test_offcut_is_drawn_by_its_true_edge_with_margin_and_keep_out(open_desk: Desk, qtbot):
    theme, place = open_desk.window.theme, open_desk.window.sheets
    plan = planned(made(open_desk.session.document.job))
    outline = ((0.0, 0.0), (1200.0, 0.0), (1200.0, 900.0), (600.0, 1800.0), (0.0, 1800.0))
    stock = replace(plan.sheets[0].stock, width=1200.0, height=1800.0, outline=outline)
    stock = replace(stock, keep_outs=(KeepOut(50.0, 1500.0, 200.0, 200.0, "dent"),))
    sheet = replace(plan.sheets[0], stock=stock, placed=(), offcuts=())
    open_desk.window.go(open_desk.window.places.index(place))
    place.view.show_picture(sheet_picture(sheet, plan.job, theme, open_desk.session.paths))
    place.view.fit()
    shot = place.view.viewport().grab().toImage()

    def colour(x: float, y: float) -> QColor:
        px = point_of(place.view, x, y)
        return shot.pixelColor(round(px.x() * shot.devicePixelRatio()), round(px.y() * shot.devicePixelRatio()))

    assert colour(430.0, 1130.0) == QColor(theme.colours.sheet)
    assert colour(1100.0, 1610.0) != QColor(theme.colours.sheet)  # beyond the slanted edge: the bench
    assert near(colour(1100.0, 1610.0).name(), theme.colours.bench, 40)
    zone = [colour(60.0 + step * 6.0, 1590.0) for step in range(30)]
    assert any(one != QColor(theme.colours.sheet) for one in zone)
    inner = margin_path(stock, 12.7)
    assert inner.contains(QPointF(1180.0, 890.0))
    assert not inner.contains(QPointF(900.0, 1345.0))  # 5 mm from the slanted edge
    small = thumbnail(sheet, open_desk.session.paths, theme.colours, 1.0, place.font()).toImage()
    # Lying on its long side the missing corner is at the lower right of the picture.
    assert small.pixelColor(10, 10) == QColor(theme.colours.sheet)
    assert small.pixelColor(small.width() - 6, 115).alpha() == 0
