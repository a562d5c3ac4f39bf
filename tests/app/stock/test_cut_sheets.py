"""Booking a cut sheet: stock, pieces and offcuts in one step, once."""

from __future__ import annotations

import dataclasses

import pytest

from app.stock.cut_sheets import (
    CutPiece,
    JobKey,
    PieceStatus,
    SheetCut,
    book_cut,
    good_pieces,
    job_key,
    mark_pieces,
    pieces_cut,
    sheets_cut,
)
from app.stock.on_hand import on_hand, set_on_hand
from app.stock.rack import Rack
from app.stock.rack_items import OffcutStatus, RackError, rectangle_offcut

JOB = JobKey("/jobs/hall.json", "hall")


def cut(**changes) -> SheetCut:
    whole = SheetCut(
        job=JOB,
        plan="p1",
        number=1,
        stock="s",
        material="alu",
        offcut=None,
        pieces=(CutPiece("A-face", 0, "x"), CutPiece("A-face", 1, "x"), CutPiece("B-face", 0, "y")),
        offcuts=(rectangle_offcut("alu", 1.6, 600, 300, job="hall"),),
    )
    return dataclasses.replace(whole, **changes)


@pytest.fixture
def rack(tmp_path):
    with Rack(tmp_path / "rack.db") as one:
        yield one


def test_booking_moves_sheet_pieces_and_offcuts_together(rack):
    set_on_hand(rack, {"s": 3}, materials={"s": "alu"})
    booked = book_cut(rack, cut())
    assert booked.left_on_hand == 2
    assert on_hand(rack) == {"s": 2}
    assert [rack.offcut(number).width for number in booked.offcuts] == [600]
    assert good_pieces(rack, JOB) == {"A-face": 2, "B-face": 1}


def test_a_sheet_is_booked_once(rack):
    set_on_hand(rack, {"s": 3}, materials={"s": "alu"})
    book_cut(rack, cut())
    with pytest.raises(RackError, match=r"sheet 1 of 'hall' was booked as cut on"):
        book_cut(rack, cut())
    assert on_hand(rack) == {"s": 2}
    assert len(rack.offcuts()) == 1
    book_cut(rack, cut(number=2))
    assert on_hand(rack) == {"s": 1}


def test_a_sheet_that_nobody_counted_can_still_be_cut(rack):
    assert book_cut(rack, cut()).left_on_hand is None
    set_on_hand(rack, {"s": 0}, materials={"s": "alu"})
    assert book_cut(rack, cut(number=2)).left_on_hand == 0


def test_an_offcut_that_was_cut_is_used_up_and_is_the_parent_of_what_is_left(rack):
    (piece,) = rack.keep([rectangle_offcut("alu", 1.6, 900, 900)])
    booked = book_cut(rack, cut(offcut=piece.id))
    assert rack.offcut(piece.id).status is OffcutStatus.USED
    assert rack.offcut(booked.offcuts[0]).parent == piece.id


def test_when_the_offcut_is_gone_nothing_at_all_is_booked(rack):
    (piece,) = rack.keep([rectangle_offcut("alu", 1.6, 900, 900)])
    rack.reserve([piece.id], "another job")
    with pytest.raises(RackError, match="reserved for 'another job'"):
        book_cut(rack, cut(offcut=piece.id))
    assert pieces_cut(rack, JOB) == ()
    assert [one.id for one in rack.offcuts()] == [piece.id]


def test_a_bad_offcut_undoes_the_whole_booking(rack):
    set_on_hand(rack, {"s": 3}, materials={"s": "alu"})
    with pytest.raises(RackError):
        book_cut(rack, cut(offcuts=(rectangle_offcut("alu", -1.0, 600, 300),)))
    assert on_hand(rack) == {"s": 3}
    assert pieces_cut(rack, JOB) == ()


def test_spoiled_and_lost_pieces(rack):
    book_cut(rack, cut())
    mark_pieces(rack, JOB, {"A-face": 1, "B-face": 1}, PieceStatus.SPOILED, note="chipped")
    assert good_pieces(rack, JOB) == {"A-face": 1}
    assert [(piece.part, piece.copy) for piece in pieces_cut(rack, JOB) if piece.status is PieceStatus.SPOILED] == [
        ("A-face", 1),
        ("B-face", 0),
    ]
    with pytest.raises(RackError, match="'A-face': 2 to be marked as lost, but 1 good ones"):
        mark_pieces(rack, JOB, {"A-face": 2}, PieceStatus.LOST)
    assert good_pieces(rack, JOB) == {"A-face": 1}


def test_a_moved_job_file_keeps_its_pieces_and_a_namesake_does_not_get_them(rack, tmp_path):
    first, second = tmp_path / "one" / "hall.json", tmp_path / "two" / "hall.json"
    for path in (first, second):
        path.parent.mkdir()
        path.write_text("{}")
    book_cut(rack, cut(job=job_key(first, "hall")))
    assert good_pieces(rack, job_key(second, "hall")) == {}
    first.unlink()
    assert good_pieces(rack, job_key(second, "hall")) == {"A-face": 2, "B-face": 1}


def test_a_count_that_makes_no_sense_is_refused(rack):
    with pytest.raises(RackError, match="count -1"):
        set_on_hand(rack, {"s": -1}, materials={"s": "alu"})


def test_booked_sheets_are_listed_for_their_job_alone(rack):
    book_cut(rack, cut())
    book_cut(rack, cut(number=2, stock="t"))
    book_cut(rack, cut(job=JobKey("/jobs/other.json", "other")))
    assert [(one.plan, one.number, one.stock, one.material) for one in sheets_cut(rack, JOB)] == [
        ("p1", 1, "s", "alu"),
        ("p1", 2, "t", "alu"),
    ]
    assert sheets_cut(rack, JobKey("/jobs/never.json", "never")) == ()
