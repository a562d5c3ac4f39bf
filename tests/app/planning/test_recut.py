"""Cutting again what was spoiled, locking what is cut, booking a sheet."""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime

import pytest

from app.errors import JobError
from app.job.check import check_job
from app.planning.plan_job import PlanRun, plan_job
from app.planning.rack_stock import offcut_of, rack_sheets, stock_id, with_rack
from app.planning.recut import (
    RecutCode,
    digest_of,
    is_cut_elsewhere,
    only,
    planned_twice,
    shape_of,
    sheet_cut,
    still_to_cut,
    surplus,
    wanted_parts,
)
from app.stock.cut_sheets import (
    JobKey,
    Piece,
    PieceStatus,
    Recut,
    book_cut,
    pieces_cut,
    record_recut,
    recuts,
    waiting_recuts,
)
from app.stock.on_hand import on_hand, set_on_hand
from app.stock.rack import Rack
from app.stock.rack_items import Box, Measured, NewOffcut, OffcutStatus, RackError, rectangle_offcut
from geometry.build import rectangle
from geometry.contour import Region
from tests.app.planning.small_jobs import INCH, prepared_squares

KEY = JobKey("/jobs/squares.json", "squares")


def prepared_with_plates(squares: int = 22):
    prepared = prepared_squares(squares)
    plate = dataclasses.replace(
        prepared.parts[0],
        id="plate",
        letter="P",
        quantity=2,
        region=Region(rectangle(100.0, 50.0)),
    )
    return dataclasses.replace(prepared, parts=(*prepared.parts, plate))


@pytest.fixture
def rack(tmp_path):
    with Rack(tmp_path / "rack.db") as one:
        yield one


def piece(part: str, shape: str, status: PieceStatus = PieceStatus.GOOD) -> Piece:
    return Piece(part, 0, shape, status, "", 1, "p", datetime(2026, 1, 1, tzinfo=UTC))


def test_parts_are_named_with_or_without_a_count_or_by_their_letter():
    prepared = prepared_with_plates()
    assert wanted_parts(prepared, ["plate", "square=3"]) == {"plate": 1, "square": 3}
    assert wanted_parts(prepared, ["plate", "plate"]) == {"plate": 2}
    assert wanted_parts(prepared, ["P=2"]) == {"plate": 2}


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["plaet"], "did you mean 'plate'"),
        (["plate=3"], "3 pieces asked for, but the job has 2"),
        (["plate=0"], "'0' is no number of pieces"),
        (["plate=x"], "'x' is no number of pieces"),
        ([], "no part is named"),
    ],
)
def test_names_that_make_no_sense_are_one_sentence(names, words):
    with pytest.raises(JobError, match=words):
        wanted_parts(prepared_with_plates(), names)


def test_only_the_spoiled_pieces_are_planned():
    plan = plan_job(only(prepared_with_plates(), {"plate": 1, "square": 2}), PlanRun(rounds=0))
    assert sorted(placed.part.id for sheet in plan.sheets for placed in sheet.placed) == ["plate", "square", "square"]


def test_the_rack_comes_before_a_new_sheet(rack):
    rack.keep([rectangle_offcut("alu", 0.063 * INCH, 700.0, 700.0, slot="B2")])
    prepared = prepared_with_plates()
    prepared = dataclasses.replace(only(prepared, {"square": 1}), job=with_rack(prepared.job, rack))
    (sheet,) = plan_job(prepared, PlanRun(rounds=0)).sheets
    assert offcut_of(sheet.stock.id) == 1
    assert sheet.stock.name == "offcut 1, rack place B2"
    assert sheet.stock.count == 1


def test_which_pieces_of_the_rack_a_job_may_use(rack):
    material = prepared_squares(1).job.materials[0]
    thick = material.thickness
    small, large, other, thicker, tiny = rack.keep(
        [
            rectangle_offcut("alu", thick, 400.0, 500.0),
            rectangle_offcut("alu", thick, 900.0, 900.0),
            rectangle_offcut("pvc", thick, 900.0, 900.0),
            rectangle_offcut("alu", 2 * thick, 900.0, 900.0),
            rectangle_offcut("alu", thick, 20.0, 900.0),  # no room inside a margin of half an inch
        ]
    )
    assert [sheet.id for sheet in rack_sheets(rack.free_for("squares"), material)] == [
        stock_id(large.id),
        stock_id(small.id),
    ]
    rack.reserve([large.id], "another job")
    job = with_rack(prepared_squares(1).job, rack)
    assert [sheet.id for sheet in job.stock] == [stock_id(small.id), "s"]
    assert with_rack(job, rack) == job  # asking twice does no harm
    assert {one.status for one in map(rack.offcut, (other.id, thicker.id, tiny.id))} == {OffcutStatus.KEPT}


def test_a_measured_piece_is_planned_at_its_measured_size(rack):
    material = prepared_squares(1).job.materials[0]
    (kept,) = rack.keep([rectangle_offcut("alu", material.thickness, 900.0, 900.0)])
    rack.measure(kept.id, Measured(880.0, 310.0))
    (sheet,) = rack_sheets(rack.free_for("squares"), material)
    assert (sheet.width, sheet.height) == (880.0, 310.0)


def test_sheets_that_are_cut_are_locked_and_the_rest_is_planned(rack):
    prepared = prepared_with_plates(22)
    plan = plan_job(prepared, PlanRun(rounds=0))
    assert len(plan.sheets) == 2
    book_cut(rack, sheet_cut(plan, 1, KEY))
    on_first = {}
    for placed in plan.sheets[0].placed:
        on_first[placed.part.id] = on_first.get(placed.part.id, 0) + 1
    rest = still_to_cut(prepared, pieces_cut(rack, KEY))
    assert rest.findings == ()
    left = {part.id: part.quantity for part in rest.prepared.parts}
    whole = {part.id: part.quantity for part in prepared.parts}
    assert all(left.get(name, 0) + on_first.get(name, 0) == count for name, count in whole.items())
    again = plan_job(rest.prepared, PlanRun(rounds=0))
    assert sum(len(sheet.placed) for sheet in again.sheets) == sum(left.values())
    book_cut(rack, sheet_cut(again, 1, KEY))  # another plan: its sheet 1 is another sheet
    assert still_to_cut(prepared, pieces_cut(rack, KEY)).prepared.parts == ()


def test_a_spoiled_piece_is_to_be_cut_again(rack):
    prepared = prepared_with_plates(2)
    book_cut(rack, sheet_cut(plan_job(prepared, PlanRun(rounds=0)), 1, KEY))
    recut = Recut("digest", "/out/recut", (("plate", 1), ("square", 1)), "chipped")
    assert record_recut(rack, KEY, recut, status=PieceStatus.SPOILED) == 2
    left = still_to_cut(prepared, pieces_cut(rack, KEY)).prepared
    assert {part.id: part.quantity for part in left.parts} == {"plate": 1, "square": 1}
    (linked,) = recuts(rack, KEY)
    assert dataclasses.replace(linked, at=None) == recut
    # Pieces of sheets that nobody booked cannot be marked; the recut is on record all the same.
    assert record_recut(rack, KEY, Recut("d", "/out", (("plate", 2),)), status=PieceStatus.LOST) == 1
    assert len(recuts(rack, KEY)) == 2
    assert recuts(rack, JobKey("/jobs/other.json", "other")) == ()


def test_a_part_changed_since_it_was_cut_is_cut_again_and_said():
    prepared = prepared_with_plates(2)
    square, plate = prepared.parts
    cut = [
        piece("square", shape_of(square).as_text()),
        piece("plate", "99.00 x 50.00 mm, 4950 mm2"),
        piece("gone", "?"),
    ]
    cut += [piece("plate", shape_of(plate).as_text(), PieceStatus.LOST)]
    rest = still_to_cut(prepared, cut)
    assert {part.id: part.quantity for part in rest.prepared.parts} == {"square": 1, "plate": 2}
    assert {finding.code for finding in rest.findings} == {RecutCode.CUT_AT_ANOTHER_SIZE}
    assert [finding.subject for finding in rest.findings] == ["plate", "gone"]
    many = still_to_cut(prepared, [piece("square", shape_of(square).as_text())] * 3)
    assert [finding.code for finding in many.findings] == [RecutCode.MORE_CUT_THAN_ASKED]
    assert "square" not in {part.id for part in many.prepared.parts}


def test_booking_a_planned_sheet_puts_its_offcuts_on_the_rack(rack):
    set_on_hand(rack, {"s": 2}, materials={"s": "alu"})
    plan = plan_job(prepared_squares(3), PlanRun(rounds=0))
    (sheet,) = plan.sheets
    assert sheet.offcuts
    booked = book_cut(rack, sheet_cut(plan, 1, KEY, measured={0: Measured(1000.0, 900.0)}, slots={0: "C3"}, lot="L77"))
    assert on_hand(rack) == {"s": 1}
    first = rack.offcut(booked.offcuts[0])
    assert (first.width, first.height, first.slot, first.lot) == (1000.0, 900.0, "C3", "L77")
    assert (first.usable.width, first.usable.height) == (sheet.offcuts[0].width, sheet.offcuts[0].height)
    assert (first.job, first.material, first.note) == ("squares", "alu", "sheet 1")
    assert len(booked.offcuts) == len(sheet.offcuts)
    with pytest.raises(RackError, match="already"):
        book_cut(rack, sheet_cut(plan, 1, KEY))
    with pytest.raises(JobError, match="no sheet 2"):
        sheet_cut(plan, 2, KEY)
    with pytest.raises(JobError, match="there is no offcut 99"):
        sheet_cut(plan, 1, KEY, slots={98: "A"})


def test_an_offcut_that_is_cut_leaves_the_rack_and_its_own_offcuts_come_onto_it(rack):
    (kept,) = rack.keep([rectangle_offcut("alu", 0.063 * INCH, 1200.0, 900.0)])
    prepared = prepared_squares(1)
    plan = plan_job(dataclasses.replace(prepared, job=with_rack(prepared.job, rack)), PlanRun(rounds=0))
    booked = book_cut(rack, sheet_cut(plan, 1, KEY))
    assert rack.offcut(kept.id).status is OffcutStatus.USED
    assert booked.offcuts
    assert all(rack.offcut(number).parent == kept.id for number in booked.offcuts)


def test_the_digest_tells_plans_apart():
    first, same = (plan_job(prepared_squares(3), PlanRun(rounds=0, seed=1)) for _ in range(2))
    assert digest_of(first) == digest_of(same)
    assert digest_of(plan_job(prepared_squares(4), PlanRun(rounds=0, seed=1))) != digest_of(first)


def test_an_irregular_piece_can_be_kept(rack):
    outline = ((0.0, 0.0), (600.0, 0.0), (600.0, 300.0), (250.0, 300.0), (250.0, 900.0), (0.0, 900.0))
    (kept,) = rack.keep([NewOffcut("alu", 0.063 * INCH, outline, Box(0, 0, 600, 300))])
    assert kept.shape == outline


def test_no_stock_of_a_job_can_be_taken_for_an_offcut():
    job = prepared_squares(1).job
    taken = dataclasses.replace(job, builds=(), stock=(dataclasses.replace(job.stock[0], id="rack:7"),))
    with pytest.raises(JobError, match="stands for an offcut of the rack"):
        check_job(taken)


def test_pieces_that_wait_in_an_earlier_recut_are_pointed_out(rack):
    prepared = prepared_with_plates(4)
    book_cut(rack, sheet_cut(plan_job(prepared, PlanRun(rounds=0)), 1, KEY))
    spoiled = plan_job(only(prepared, {"square": 2}), PlanRun(rounds=0))
    record_recut(rack, KEY, Recut(digest_of(spoiled), "/out/one", (("square", 2),)), status=PieceStatus.SPOILED)
    waiting = waiting_recuts(rack, KEY)
    assert [one.parts for one in waiting] == [(("square", 2),)]
    (said,) = planned_twice({"square": 1, "plate": 1}, waiting, "/out/two")
    assert "1 of these pieces waits in the recut" in said.message
    assert "'/out/one'" in said.message
    assert planned_twice({"plate": 1}, waiting, "/out/two") == ()
    assert planned_twice({"square": 1}, waiting, "/out/one") == ()
    record_recut(rack, KEY, Recut("newer", "/out/one", (("square", 2),)))
    assert [one.plan for one in waiting_recuts(rack, KEY)] == ["newer"]
    book_cut(rack, sheet_cut(spoiled, 1, KEY))
    assert [one.plan for one in waiting_recuts(rack, KEY)] == ["newer"]


def test_pieces_cut_twice_from_overlapping_plans_are_told_when_booked(rack):
    prepared = prepared_with_plates(4)
    whole = plan_job(prepared, PlanRun(rounds=0))
    first = sheet_cut(whole, 1, KEY)
    book_cut(rack, first)
    pieces = pieces_cut(rack, KEY)
    assert not is_cut_elsewhere(pieces, first)
    assert surplus(prepared, pieces, first) == ()
    overlapping = sheet_cut(plan_job(only(prepared, {"square": 1}), PlanRun(rounds=0)), 1, KEY)
    book_cut(rack, overlapping)
    pieces = pieces_cut(rack, KEY)
    assert is_cut_elsewhere(pieces, overlapping)
    (said,) = surplus(prepared, pieces, overlapping)
    assert said.message == "part square: 5 good pieces are cut, the job asks for 4"


def test_a_recut_leaves_alone_what_uncut_sheets_of_its_job_may_lie_on(rack):
    job = prepared_squares(3).job
    material = job.materials[0]
    held, free = rack.keep(
        [rectangle_offcut(material.id, material.thickness, width, 900.0) for width in (700.0, 500.0)]
    )
    rack.reserve([held.id], job.name)
    assert {offcut_of(one.id) for one in with_rack(job, rack).stock} >= {held.id, free.id}
    only_free = {offcut_of(one.id) for one in with_rack(job, rack, takes_reserved=False).stock}
    assert free.id in only_free
    assert held.id not in only_free


def test_an_offcut_cannot_measure_more_than_its_sheet():
    plan = plan_job(prepared_squares(3), PlanRun(rounds=0))
    assert plan.sheets[0].offcuts
    with pytest.raises(JobError, match="cannot measure"):
        sheet_cut(plan, 1, KEY, measured={0: Measured(7620.0, 50.8)})
    booked = sheet_cut(plan, 1, KEY, measured={0: Measured(600.0, 500.0)})
    assert booked.offcuts[0].measured == Measured(600.0, 500.0)
