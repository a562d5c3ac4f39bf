"""Cutting again in the window: only what is asked for, from the rack first, with files of its own."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app.planning.host import Finished
from app.planning.plan_job import PlanRun, plan_job
from app.planning.recut import sheet_cut
from app.stock.cut_sheets import PieceStatus, book_cut, job_key, pieces_cut, recuts
from app.stock.rack import Rack
from app.stock.rack_items import OffcutStatus, rectangle_offcut
from tests.app.window.stand_ins import BACKER, Desk, FakePlanner, open_job, planned

AGAIN = 1
PART = "sign-1-backer"


@dataclass
class HerePlanner(FakePlanner):
    """Plans for real when asked to, in the window's own process, first layouts only."""

    def start(self, prepared, *, seconds, rounds=None, seed=0):
        run = super().start(prepared, seconds=seconds, rounds=rounds, seed=seed)
        self.waiting.append(Finished(run, plan_job(prepared, PlanRun(rounds=0, seed=seed)), False))
        return run


@pytest.fixture
def recut_desk(make_desk, qtbot, small_job, tmp_path) -> Desk:
    """A saved job at the page where parts are cut again."""
    desk = make_desk(new_planner=HerePlanner)
    desk.session.document.open(small_job, None)
    desk.window._write(str(tmp_path / "two.json"))
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)
    desk.window.go(5)
    desk.window.output.show_page(desk.window.output.recut)
    return desk


def place(desk: Desk):
    return desk.window.output.recut


def type_count(desk: Desk, part: str, text: str) -> None:
    table = place(desk).table
    table.item(table.all_keys.index(part), AGAIN).setText(text)


def plan_again(desk: Desk, qtbot) -> None:
    qtbot.mouseClick(place(desk).next, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: place(desk).plan is not None, timeout=30_000)


def test_every_part_is_listed_and_nothing_is_asked_for(recut_desk: Desk):
    recut = place(recut_desk)
    assert set(recut.table.all_keys) == {part.id for part in recut_desk.session.preparation.prepared.parts}
    assert not recut.next.isEnabled()
    assert "Type under Again" in recut.empty.text()


def test_more_than_the_job_has_or_no_number_is_one_sentence(recut_desk: Desk):
    type_count(recut_desk, PART, "9")
    assert "the job has 2" in recut_desk.window.banner.message.text()
    type_count(recut_desk, PART, "a few")
    assert "no number of pieces" in recut_desk.window.banner.message.text()
    assert place(recut_desk).counts == {}
    assert place(recut_desk).table.text(PART, AGAIN) == ""


def test_only_what_is_asked_for_is_planned_and_the_jobs_own_plan_stays(recut_desk: Desk, qtbot):
    before = recut_desk.session.planning.plan
    type_count(recut_desk, PART, "1")
    assert place(recut_desk).next.text() == "Plan 1 piece again"
    plan_again(recut_desk, qtbot)
    plan = place(recut_desk).plan
    assert [(one.part.id, one.placement.copy) for sheet in plan.sheets for one in sheet.placed] == [(PART, 0)]
    assert plan.job.name == "Two letters, recut"
    assert recut_desk.session.planning.plan is before
    assert [thing.key for thing in place(recut_desk).view.picture.things] == ["sheet 1"]


def test_rack_comes_first_and_may_be_left_out(recut_desk: Desk, qtbot):
    with Rack() as rack:
        (piece,) = rack.keep([rectangle_offcut(BACKER, 3.175, 700, 700)])
    type_count(recut_desk, PART, "1")
    plan_again(recut_desk, qtbot)
    assert place(recut_desk).plan.sheets[0].stock.id == f"rack:{piece.id}"
    place(recut_desk).rack.setChecked(False)
    place(recut_desk).start()
    qtbot.waitUntil(lambda: not recut_desk.session.recutting.is_running)
    assert not place(recut_desk).plan.sheets[0].stock.id.startswith("rack:")


def test_another_number_needs_another_plan(recut_desk: Desk, qtbot):
    type_count(recut_desk, PART, "1")
    plan_again(recut_desk, qtbot)
    type_count(recut_desk, PART, "2")
    assert place(recut_desk).plan is None
    assert place(recut_desk).next.text() == "Plan 2 pieces again"


def test_files_are_written_pieces_marked_offcuts_held_and_all_is_linked(recut_desk: Desk, qtbot, tmp_path, monkeypatch):
    session = recut_desk.session
    key = job_key(session.document.path, session.document.job.name)
    first = planned(replace(session.preparation.prepared, job=session.document.job))
    with Rack() as rack:
        book_cut(rack, sheet_cut(first, 1, key))
        rack.keep([rectangle_offcut(BACKER, 3.175, 800, 800)])
    session.rack.look()
    assert place(recut_desk).table.text(PART, 3) == "2"  # good pieces booked as cut
    type_count(recut_desk, PART, "1")
    place(recut_desk).note.setText("cutter broke")
    plan_again(recut_desk, qtbot)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "other.txt").write_text("not ours")
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(tmp_path / "out"))
    qtbot.mouseClick(place(recut_desk).next, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: place(recut_desk)._written is not None, timeout=60_000)
    folder = tmp_path / "out" / "Two letters - recut 1"
    written = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    assert [one["part"] for sheet in written["sheets"] for one in sheet["placements"]] == [PART]
    with Rack() as rack:
        fates = [piece.status for piece in pieces_cut(rack, key) if piece.part == PART]
        (made,) = recuts(rack, key)
        held = [one for one in rack.offcuts() if one.status is OffcutStatus.RESERVED]
    assert sorted(fates) == [PieceStatus.GOOD, PieceStatus.SPOILED]
    assert (Path(made.folder), made.parts, made.note) == (folder, ((PART, 1),), "cutter broke")
    assert [one.reserved_for for one in held] == ["Two letters"]
    assert "1 of 1 piece marked as spoiled" in place(recut_desk).done.text()
    assert "recut 1" in place(recut_desk).history.text()
    # The recut's sheet is booked as cut on the page before, from its folder.
    cutting = recut_desk.window.output.cutting
    recut_desk.window.output.show_page(cutting)
    cutting.plan.setCurrentIndex(cutting.plan.findData(str(folder)))
    cutting.plan.chosen.emit(str(folder))
    assert cutting.table.all_keys == ("1",)
    monkeypatch.setattr(QMessageBox, "question", lambda *_: QMessageBox.StandardButton.Yes)
    qtbot.mouseClick(cutting.next, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not session.rack.is_busy)
    with Rack() as rack:
        assert rack.offcut(held[0].id).status is OffcutStatus.USED
        good = [piece for piece in pieces_cut(rack, key) if piece.part == PART and piece.status is PieceStatus.GOOD]
    assert len(good) == 2
    assert cutting.table.text("1", 5).startswith("cut 20")


def test_job_without_a_file_is_to_be_saved_first(make_desk, qtbot, small_job):
    desk = make_desk(new_planner=HerePlanner)
    open_job(desk, qtbot, small_job)
    desk.window.go(5)
    desk.window.output.show_page(place(desk))
    type_count(desk, PART, "1")
    plan_again(desk, qtbot)
    assert not place(desk).next.isEnabled()
    assert "Save the job first" in place(desk).hint.text()


def test_parts_chosen_on_a_sheet_are_taken_along(recut_desk: Desk, qtbot):
    window = recut_desk.window
    window.plan()
    qtbot.waitUntil(lambda: recut_desk.session.can_export, timeout=30_000)
    action = window.actions_by_id["cut_again"]
    assert not action.isEnabled()
    things = [thing for thing in window.sheets.view.picture.things if thing.key.startswith("sign-")]
    window.sheets.view.select_all(things[:2])
    assert action.isEnabled()
    action.trigger()
    assert window.place is place(recut_desk)
    assert sum(place(recut_desk).counts.values()) == 2
    assert set(place(recut_desk).counts) == {thing.key.rpartition("#")[0] for thing in things[:2]}
