"""What the window says of letters, stock, seams, and of what is not made; and stopping at once."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QGuiApplication

from app.fabrication.part import CutPart, Role
from app.job.edits import set_stock_size
from app.planning.host import RunState
from app.planning.prepare import Prepared
from app.window import solver_bridge
from app.window.parts_picture import Arrangement
from app.window.paths import PathCache
from app.window.picture import Words
from app.window.room import Room
from app.window.seam_lines import SeamLine
from app.window.theme import LIGHT
from app.window.walk import Mark
from geometry.build import rectangle, region
from tests.app.window.stand_ins import BACKER, Desk, made, make_plan
from tests.app.window.test_drawing import point_of

# Letters


def rows(desk: Desk) -> list[list[str]]:
    table = desk.window.artwork.letters.table
    return [[table.item(row, column).text() for column in range(4)] for row in range(table.rowCount())]


def test_letters_are_listed_with_their_sizes_in_the_jobs_units(open_desk: Desk, qtbot):
    # 400 mm = 15.748 in, 240 mm = 9.449 in; the O has a counter, the L none
    assert rows(open_desk) == [["O", '15.748"', '15.748"', "1"], ["L", '9.449"', '15.748"', "0"]]
    open_desk.window.artwork.strip.millimetres.click()
    assert rows(open_desk)[1] == ["L", "240 mm", "400 mm", "0"]
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


def test_letters_are_sorted_by_size_and_copied_as_a_table(open_desk: Desk):
    letters = open_desk.window.artwork.letters
    letters.table.sortItems(1, Qt.SortOrder.AscendingOrder)  # as text, 15.748" would go before 9.449"
    assert [row[0] for row in rows(open_desk)] == ["L", "O"]
    letters.copy_button.click()
    assert QGuiApplication.clipboard().text().splitlines() == [
        "Letter\tWidth\tHeight\tCounters",
        'L\t9.449"\t15.748"\t0',
        'O\t15.748"\t15.748"\t1',
    ]


def test_letter_in_the_list_is_shown_on_the_drawing_and_the_reverse(open_desk: Desk, qtbot):
    place = open_desk.window.artwork
    table, view = place.letters.table, place.view
    qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=table.visualItemRect(table.item(1, 0)).center())
    assert view.selection.key == "sign-2"
    middle = view._to_scene(view.viewport().rect().center().toPointF())
    assert (middle.x(), middle.y()) == (pytest.approx(460 + 120, abs=3), pytest.approx(-200, abs=3))
    place.view.fit()
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=point_of(view, 50, -200))
    assert view.selection.key == "sign-1"
    assert next(item.text() for item in table.selectedItems()) == "O"
    table.setFocus()
    qtbot.keyClick(table, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert QGuiApplication.clipboard().text().splitlines()[1:] == ['O\t15.748"\t15.748"\t1']
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=point_of(view, 200, -200))  # the counter
    assert not table.selectedItems()


# Stock


def stock_notes(desk: Desk) -> list[tuple[str, bool]]:
    words = [item for item in desk.window.stock.sizes.view.picture.items if isinstance(item, Words)]
    return [(one.text, one._is_bad) for one in words if "fit" in one.text]


def test_stock_says_neutrally_how_many_parts_fit_each_size(open_desk: Desk, qtbot):
    open_desk.window.go(2)
    sheet = next(one for one in open_desk.session.document.job.stock if one.material == BACKER)
    assert all(text == "all 2 parts fit" and not is_bad for text, is_bad in stock_notes(open_desk))
    # A strip of 300 mm inside a margin of 9.5 mm: the L of 240 x 400 goes on it, the O of 400 x 400 does not.
    open_desk.session.document.edit("size", lambda job: set_stock_size(job, sheet.id, 300.0, 2000.0))
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)
    assert ("1 of 2 parts fit", False) in stock_notes(open_desk)
    assert open_desk.window.stock.standing().mark is Mark.DONE  # another size takes what this one does not
    # Nothing goes on a sheet of 150 x 150 mm, whichever there is.
    for one in [one for one in open_desk.session.document.job.stock if one.material == BACKER]:
        open_desk.session.document.edit("size", lambda job, one=one: set_stock_size(job, one.id, 150.0, 150.0))
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)
    assert set(stock_notes(open_desk)) == {("no part fits", True)}
    assert open_desk.window.stock.standing().mark is Mark.LOOK


@pytest.mark.parametrize(
    ("rotations", "fits"),
    # A bar of 1100 x 20 lies in a square of 800 only aslant: at 45 degrees its box is (1100 + 20) / sqrt 2 = 792.
    [(None, True), ((0.0, 90.0, 180.0, 270.0), False), ((45.0,), True)],
)
def test_part_fits_a_sheet_only_at_an_angle_it_may_have(open_desk: Desk, rotations, fits):
    bar = CutPart(
        "bar", Role.FACE, "x", "x face", BACKER, 1, region(rectangle(1100.0, 20.0), []), (0.0, 0.0), rotations
    )
    sheet = replace(open_desk.session.document.job.stock[0], width=800.0, height=800.0)
    assert Room(PathCache()).fits(bar, sheet, 0.0) is fits


# Seams


def test_seams_are_drawn_across_the_letter_and_the_parts_in_place(open_desk: Desk):
    artwork, parts = open_desk.window.artwork, open_desk.window.parts
    assert ("Seams", "1 (dashed): 1 face") in artwork.facts.facts
    line = next(item for item in artwork.view.picture.items if isinstance(item, SeamLine))
    edge = LIGHT.role_edge(Role.FACE)
    picture = artwork.view.viewport().grab().toImage()
    ends = [point_of(artwork.view, 580, y) for y in (-395, -315)]  # the foot of the L is 90 mm high
    across = [
        picture.pixelColor(x, y)
        for y in range(min(end.y() for end in ends), max(end.y() for end in ends))
        for x in range(ends[0].x() - 2, ends[0].x() + 3)
    ]
    assert any(max(abs(a - b) for a, b in zip(one.getRgb(), edge.getRgb(), strict=True)) < 40 for one in across)
    assert any(QColor(one).lightnessF() > 0.9 for one in across)
    assert line.mapToScene(line.seam.start[0], line.seam.start[1]).toTuple() == pytest.approx((580.0, -400.0))
    open_desk.window.go(1)
    assert not any(isinstance(item, SeamLine) for item in parts.view.picture.items)
    parts.arrange(Arrangement.IN_PLACE)
    assert sum(isinstance(item, SeamLine) for item in parts.view.picture.items) == 1
    parts.legend.rows[Role.FACE].box.setChecked(False)
    assert not any(isinstance(item, SeamLine) for item in parts.view.picture.items)
    assert "1 face" in parts.seams.told.text()


# Words on the drawing


def shown_words(view) -> list[tuple[str, QRectF]]:
    board = view.transform()
    words = [item for item in view.picture.items if isinstance(item, Words) and item.isVisible()]
    return [(one.text_at(board), one.area_px(board)) for one in words]


@pytest.mark.parametrize("size", [(1440, 900), (1024, 700), (860, 560)])
def test_sizes_stay_readable_and_off_the_letters_at_every_window_size(make_desk, qtbot, small_job, size):
    def three_lines(job, _report) -> Prepared:
        names = ("sign0", "sign1", "sign2")
        three = replace(job, artwork=tuple(replace(job.artwork[0], id=name, name=name) for name in names))
        one = made(three)
        lines = [replace(one.lettering[0], artwork=name) for name in names]
        tall = replace(lines[2], height=3000.0)
        return replace(one, lettering=(lines[0], lines[1], tall))

    desk = make_desk(prepare=three_lines)
    desk.session.document.open(small_job, None)
    desk.window.go(0)
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)
    view = desk.window.artwork.view
    desk.window.resize(*size)
    drawn = view.picture
    if size != (1200, 800):
        qtbot.waitUntil(lambda: view.picture is not drawn)  # laid out for the new size
    words = shown_words(view)
    # Each line's width, 700 mm = 27.559 in; and its height, 400 mm = 15.748 in, where the window gives it any room
    assert sum(text.startswith('27.559"') for text, _area in words) == 3
    assert sum(text.startswith('15.748"') for text, _area in words) == (2 if size[1] >= 700 else 0)
    areas = [area for _text, area in words]
    assert not any(one.intersects(other) for index, one in enumerate(areas) for other in areas[:index])
    things = [view.transform().mapRect(thing.area()) for thing in view.picture.things]
    assert not any(area.adjusted(1, 3, -1, -3).intersects(thing) for area in areas for thing in things)
    names = [item for item in view.picture.items if isinstance(item, Words) and item.rank == 0]
    assert all(name.isVisible() for name in names)


def test_names_of_parts_stand_under_them_and_never_on_them(open_desk: Desk):
    open_desk.window.go(1)
    view = open_desk.window.parts.view
    board = view.transform()
    words = shown_words(view)
    assert {text for text, _area in words} >= {
        "Backer   4 pieces",
        'O ×2   15.748" × 15.748"',
        'L ×2   9.449" × 15.748"',
    }
    things = {thing.key: board.mapRect(thing.area()) for thing in view.picture.things}
    for text, area in words:
        assert not any(area.adjusted(1, 3, -1, -3).intersects(thing) for thing in things.values()), text
    under = max(
        (area for text, area in words if text.startswith("L ×2")), key=lambda area: area.y()
    )  # faces below backers
    assert 0 < under.center().y() - things["sign-2-face"].bottom() < 20  # y down in pixels
    assert under.center().x() == pytest.approx(things["sign-2-face"].center().x(), abs=1.0)


def test_zoomed_far_out_the_least_important_words_go_first(open_desk: Desk):
    view = open_desk.window.artwork.view
    before = {item.rank for item in view.picture.items if isinstance(item, Words) and item.isVisible()}
    assert before == {1, 2}
    for _ in range(30):
        view.zoom(1 / 1.2)
    assert view.scale_px < 0.3
    words = [item for item in view.picture.items if isinstance(item, Words)]
    assert {item.rank for item in words if item.isVisible()} <= {1}
    view.fit()
    assert all(item.isVisible() for item in words)


# Not made


def test_what_is_not_made_is_said_before_the_files_are_written(open_desk: Desk, qtbot):
    make_plan(open_desk, qtbot, is_whole=False)
    sheets, output = open_desk.window.sheets, open_desk.window.output.writing
    sentence = "Part L face: corner the cutter cannot reach."
    for place in (sheets, output):
        assert place.not_made.told == (sentence,)
        assert place.not_made.isVisibleTo(place)
        assert place.standing().mark is Mark.FAULT
        assert "1 thing not made" in place.standing().words
    assert "1 thing not made" in sheets.run.state.text()
    assert "not be the whole job" in output.hint.text()
    make_plan(open_desk, qtbot)
    for place in (sheets, output):
        assert not place.not_made.isVisibleTo(place)
        assert place.standing().mark is not Mark.FAULT


# Stopping at once


def test_stop_at_once_is_offered_when_cancelling_takes_long_and_keeps_the_last_plan(
    open_desk: Desk, qtbot, monkeypatch
):
    planning, sheets = open_desk.session.planning, open_desk.window.sheets
    planning._patience.setInterval(200)
    open_desk.window.plan()
    last = open_desk.planner.gain()
    qtbot.waitUntil(lambda: planning.plan is last)
    open_desk.window.actions_by_id["cancel"].trigger()
    assert not sheets.next.isEnabled()
    assert not open_desk.window.actions_by_id["stop"].isEnabled()
    qtbot.waitUntil(lambda: sheets.next.text() == "Stop at once")
    assert open_desk.window.actions_by_id["stop"].isEnabled()
    sheets.next.click()
    assert open_desk.planner.state is RunState.CANCELLED
    assert planning.state == "cancelled"
    assert planning.plan is last
    assert not planning.is_preview
    assert "last plan that came in" in sheets.run.state.text()
    assert open_desk.session.can_export
    assert sheets.next.text() == "Next: Output"
    make_plan(open_desk, qtbot)
    assert "last plan that came in" not in sheets.run.state.text()


def test_stop_at_once_before_any_plan_leaves_none_and_one_may_plan_again(open_desk: Desk, qtbot):
    planning, sheets = open_desk.session.planning, open_desk.window.sheets
    planning._patience.setInterval(50)
    open_desk.window.plan()
    planning.cancel()
    qtbot.waitUntil(lambda: planning.may_stop_at_once)
    planning.stop_at_once()
    assert planning.plan is None
    assert "before there was a plan" in sheets.run.state.text()
    assert not open_desk.session.can_export
    assert open_desk.session.can_plan


def test_run_that_ends_in_time_is_never_stopped_at_once(open_desk: Desk, qtbot):
    planning = open_desk.session.planning
    assert 2000 <= solver_bridge.STOP_OFFERED_MS <= 5000
    planning._patience.setInterval(50)
    open_desk.window.plan()
    planning.cancel()
    qtbot.waitUntil(lambda: planning.may_stop_at_once)
    final = open_desk.planner.finish(cancelled=True)
    planning.stop_at_once()  # the end has come in just before
    assert planning.plan is final
    assert planning.state == "cancelled"
    assert not planning.was_stopped_at_once
