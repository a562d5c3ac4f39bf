"""Fields of the places: what is typed becomes an edit of the job, or is refused in a sentence."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from app.job.document import DisplayUnits, Scale, ScaleBy
from app.job.edits import set_seed, set_stock_count
from tests.app.window.hand_tools import type_into
from tests.app.window.stand_ins import Desk


def fact(facts, what: str) -> str:
    return dict(facts)[what]


def test_size_typed_in_feet_and_inches_rescales_the_letters_and_is_undone(open_desk: Desk, qtbot):
    place, document = open_desk.window.artwork, open_desk.session.document
    type_into(qtbot, place.size_fields.length, "4' 6\"")
    assert document.job.artwork[0].scale == Scale(ScaleBy.OVERALL_HEIGHT, pytest.approx(54 * 25.4))
    qtbot.waitUntil(lambda: fact(place.facts.facts, "Height") == '54" (1371.6 mm)')
    assert document.undo_stack.undoText() == 'change overall height to 54"'
    open_desk.window.actions_by_id["undo"].trigger()
    assert document.job.artwork[0].scale.length == 400.0
    qtbot.waitUntil(lambda: fact(place.facts.facts, "Height") == '15.748" (400 mm)')
    open_desk.window.actions_by_id["redo"].trigger()
    assert document.job.artwork[0].scale.length == pytest.approx(1371.6)
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


@pytest.mark.parametrize(("typed", "mm"), [('24"', 609.6), ("610 mm", 610.0), ("12", 304.8)])
def test_lengths_are_read_with_their_unit_and_bare_numbers_in_the_jobs(open_desk: Desk, qtbot, typed, mm):
    type_into(qtbot, open_desk.window.artwork.size_fields.length, typed)
    assert open_desk.session.document.job.artwork[0].scale.length == pytest.approx(mm)
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


@pytest.mark.parametrize("typed", ["tall", "-3 in", "0"])
def test_nonsense_length_changes_nothing_and_is_explained(open_desk: Desk, qtbot, typed):
    before = open_desk.session.document.job
    type_into(qtbot, open_desk.window.artwork.size_fields.length, typed)
    assert open_desk.session.document.job is before
    assert open_desk.window.banner.isVisible()
    assert open_desk.window.artwork.size_fields.length.property("wrong") is True


def test_field_merely_passed_through_edits_nothing(open_desk: Desk, qtbot):
    field = open_desk.window.artwork.size_fields.length
    field.setFocus()
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert not open_desk.session.document.undo_stack.canUndo()


def test_changing_the_measure_keeps_the_size(open_desk: Desk, qtbot):
    open_desk.window.artwork.size_fields.scale_by.chosen.emit(ScaleBy.OVERALL_WIDTH)
    assert open_desk.session.document.job.artwork[0].scale == Scale(ScaleBy.OVERALL_WIDTH, pytest.approx(700.0))
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)


def test_units_are_shown_everywhere_at_once_and_findings_are_written_anew(open_desk: Desk, qtbot):
    read = len(open_desk.prepared_jobs)
    open_desk.window.artwork.strip.millimetres.click()
    assert open_desk.session.document.job.units is DisplayUnits.MILLIMETRES
    assert open_desk.window.artwork.size_fields.length.text() == "400 mm"
    assert open_desk.window.actions_by_id["millimetres"].isChecked()
    assert all(place.view.units is DisplayUnits.MILLIMETRES for place in open_desk.window.places)
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)
    assert len(open_desk.prepared_jobs) == read + 1


def test_stock_is_read_with_the_parts_and_the_seed_is_not(open_desk: Desk, qtbot):
    """Seams are placed by the sheets there are: parts derived for other stock must never be planned."""
    sheet = open_desk.session.document.job.stock[0].id
    open_desk.session.document.edit("count", lambda job: set_stock_count(job, sheet, 3))
    assert not open_desk.session.can_plan
    qtbot.waitUntil(lambda: open_desk.session.can_plan)
    assert open_desk.prepared_jobs[-1].stock[0].count == 3
    read = len(open_desk.prepared_jobs)
    open_desk.session.document.edit("seed", lambda job: set_seed(job, 5))
    assert open_desk.session.can_plan
    assert len(open_desk.prepared_jobs) == read


def test_stock_count_stepped_up_in_one_visit_is_one_undo_step(open_desk: Desk, qtbot):
    open_desk.window.go(2)
    document = open_desk.session.document
    sheet, field = next(iter(open_desk.window.stock.sizes.counts.items()))
    field.setFocus()
    for value in (3, 4, 5):
        field.setValue(value)
    assert next(one for one in document.job.stock if one.id == sheet).count == 5
    document.undo_stack.undo()
    assert next(one for one in document.job.stock if one.id == sheet).count is None
    assert field.text() == "any number"


def test_margin_and_web_of_a_material_are_edited(open_desk: Desk, qtbot):
    open_desk.window.go(2)
    type_into(qtbot, open_desk.window.stock.sizes.margin, '1"')
    type_into(qtbot, open_desk.window.stock.sizes.web, '1/2"')
    material = open_desk.session.document.job.materials[0]
    assert (material.margin, material.web) == (pytest.approx(25.4), pytest.approx(12.7))
    cutter = next(one for one in open_desk.session.document.job.cutters if one.id == material.cutter)
    assert cutter.diameter == pytest.approx(6.35)
    assert open_desk.window.stock.sizes.spacing.text().startswith('3/4"')
    qtbot.waitUntil(lambda: not open_desk.session.preparation.is_busy)
