"""The rack by itself: states, history, measured sizes, ageing, and files it must refuse or bring up to date."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta

import pytest

from app.stock.rack import Rack
from app.stock.rack_file import PLACE_VARIABLE, rack_place
from app.stock.rack_items import (
    Box,
    Measured,
    NewOffcut,
    OffcutStatus,
    RackError,
    RackEvent,
    outline_area,
    rectangle_offcut,
)
from app.stock.rack_schema import APPLICATION_ID, MIGRATIONS


class Clock:
    def __init__(self) -> None:
        self.now = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def rack(tmp_path, clock):
    with Rack(tmp_path / "rack.db", clock=clock) as one:
        yield one


L_SHAPE = ((0.0, 0.0), (600.0, 0.0), (600.0, 300.0), (250.0, 300.0), (250.0, 900.0), (0.0, 900.0))


def sample(**changes) -> NewOffcut:
    return rectangle_offcut("alu-0.063", 1.6, 609.6, 914.4, **changes)


def test_a_piece_comes_back_as_it_was_put_in(rack, clock):
    new = NewOffcut(
        "acrylic", 4.5, L_SHAPE, Box(0, 0, 250, 900), lot="L7", slot="B2", job="café", note="one edge rough"
    )
    (kept,) = rack.keep([new])
    assert kept.outline == L_SHAPE
    assert (kept.lot, kept.slot, kept.job, kept.note) == ("L7", "B2", "café", "one edge rough")
    assert (kept.width, kept.height) == (250, 900)
    assert kept.status is OffcutStatus.KEPT
    assert kept.kept_at == clock.now
    assert outline_area(kept.shape) == 600 * 300 + 250 * 600
    assert [entry.what for entry in rack.history(kept.id)] == [RackEvent.KEPT]


def test_measured_size_counts_instead_of_the_planned_one(rack):
    (kept,) = rack.keep([sample()])
    after = rack.measure(kept.id, Measured(600.0, 910.0, thickness=1.58))
    assert (after.width, after.height) == (600.0, 910.0)
    assert outline_area(after.shape) == 600.0 * 910.0
    assert after.usable == kept.usable  # what was planned stays on record
    again = rack.measure(kept.id, Measured(590.0, 910.0))
    assert again.measured == Measured(590.0, 910.0, 1.58)  # a thickness once measured is not forgotten


def test_the_life_of_a_piece_and_its_history(rack):
    (kept,) = rack.keep([sample(job="first job")])
    rack.reserve([kept.id], "second job")
    rack.take([kept.id], job="second job")
    back = rack.put_back(kept.id, measured=Measured(300.0, 914.4), slot="C1")
    assert (back.status, back.width, back.slot, back.reserved_for) == (OffcutStatus.KEPT, 300.0, "C1", "")
    rack.discard([kept.id], note="bent")
    what = [entry.what.value for entry in rack.history(kept.id)]
    assert what == ["kept", "reserved", "taken", "returned", "measured", "moved", "discarded"]
    assert rack.history(kept.id)[-1].note == "bent"
    assert rack.offcuts() == ()


def test_a_reserved_piece_is_for_its_job_alone(rack):
    first, second = rack.keep([sample(), sample()])
    rack.reserve([first.id], "hall")
    rack.reserve([first.id], "hall")  # asking twice does no harm
    assert [one.id for one in rack.free_for("hall")] == [first.id, second.id]
    assert [one.id for one in rack.free_for("café")] == [second.id]
    with pytest.raises(RackError, match="reserved for 'hall', not for 'café'"):
        rack.take([first.id], job="café")
    with pytest.raises(RackError, match="reserved for 'hall'; name that job"):
        rack.take([first.id])
    with pytest.raises(RackError, match="reserved for 'hall'"):
        rack.reserve([first.id], "café")
    with pytest.raises(RackError, match="reserved for 'hall'"):
        rack.discard([first.id])
    rack.release([first.id])
    rack.take([first.id], job="café")


def test_several_pieces_change_together_or_not_at_all(rack):
    first, second = rack.keep([sample(), sample()])
    rack.take([second.id])
    with pytest.raises(RackError, match=f"offcut {second.id} was taken"):
        rack.reserve([first.id, second.id], "hall")
    assert rack.offcut(first.id).status is OffcutStatus.KEPT
    assert len(rack.history(first.id)) == 1


def test_what_a_state_forbids_is_said(rack):
    (kept,) = rack.keep([sample()])
    with pytest.raises(RackError, match="on the rack"):
        rack.put_back(kept.id)
    rack.discard([kept.id])
    for act in (
        lambda: rack.take([kept.id]),
        lambda: rack.discard([kept.id]),
        lambda: rack.measure(kept.id, Measured(1, 1)),
        lambda: rack.move(kept.id, "A1"),
    ):
        with pytest.raises(RackError, match="was discarded"):
            act()
    with pytest.raises(RackError, match="no offcut 999"):
        rack.offcut(999)


def test_numbers_are_never_given_twice(rack):
    (first,) = rack.keep([sample()])
    rack.connection.execute("DELETE FROM event")
    rack.connection.execute("DELETE FROM offcut")
    (second,) = rack.keep([sample()])
    assert second.id > first.id


def test_ageing(rack, clock):
    (old,) = rack.keep([sample()])
    clock.now += timedelta(days=60)
    (young,) = rack.keep([sample()])
    clock.now += timedelta(days=30)
    assert [one.id for one in rack.old()] == [old.id]
    assert (rack.offcut(old.id).age_days(clock.now), rack.offcut(young.id).age_days(clock.now)) == (90, 30)


@pytest.mark.parametrize(
    ("piece", "words"),
    [
        (rectangle_offcut("", 1.6, 100, 100), "material"),
        (rectangle_offcut("a", 0.0, 100, 100), "thickness"),
        (rectangle_offcut("a", 1.6, float("nan"), 100), "outline"),
        (rectangle_offcut("a", 1.6, 30_000, 100), "30000 mm"),
        (NewOffcut("a", 1.6, L_SHAPE[::-1], Box(0, 0, 10, 10)), "anticlockwise"),
        (NewOffcut("a", 1.6, L_SHAPE, Box(0, 0, 700, 10)), "usable rectangle"),
        (NewOffcut("a", 1.6, ((5, 5), (10, 5), (10, 10)), Box(5, 5, 1, 1)), "lower left"),
        (rectangle_offcut("a", 1.6, 100, 100, measured=Measured(-1, 100)), "-1 mm"),
    ],
)
def test_pieces_that_make_no_sense_are_refused_and_nothing_is_kept(rack, piece, words):
    with pytest.raises(RackError, match=words):
        rack.keep([sample(), piece])
    assert rack.offcuts() == ()


def test_the_file_is_where_the_variable_says_else_in_the_users_folder(monkeypatch, tmp_path):
    monkeypatch.setenv(PLACE_VARIABLE, str(tmp_path / "shop" / "rack.db"))
    with Rack() as rack:
        rack.keep([sample()])
    assert (tmp_path / "shop" / "rack.db").exists()
    monkeypatch.delenv(PLACE_VARIABLE)
    assert rack_place().endswith("rack.db")
    assert "letterbed" in rack_place()


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS)))
def test_every_old_version_opens_with_its_pieces(tmp_path, version):
    path = tmp_path / "old.db"
    old = sqlite3.connect(path)
    for script in MIGRATIONS[:version]:
        old.executescript(script)
    old.execute(
        "INSERT INTO offcut (material, thickness_mm, outline_mm, usable_x_mm, usable_y_mm, usable_width_mm, "
        "usable_height_mm, lot, slot, job, note, status, kept_at, changed_at) VALUES "
        "('pvc', 6.0, '[[0,0],[500,0],[500,400],[0,400]]', 0, 0, 500, 400, '', 'A1', 'old job', '', 'kept', "
        "'2025-01-01T00:00:00.000000Z', '2025-01-01T00:00:00.000000Z')"
    )
    old.execute("INSERT INTO event (offcut, what, job, note, at) VALUES (1,'kept','','','2025-01-01T00:00:00.000000Z')")
    old.executescript(f"PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {version};")
    old.commit()
    old.close()
    with Rack(path) as rack:
        assert rack.check() == ()
        assert rack.connection.execute("PRAGMA user_version").fetchone()[0] == len(MIGRATIONS)
        (piece,) = rack.offcuts()
        assert (piece.job, piece.width, piece.measured, piece.parent) == ("old job", 500, None, None)
        rack.measure(piece.id, Measured(490, 390, 6.1))


def test_a_later_version_is_left_alone(tmp_path):
    path = tmp_path / "rack.db"
    with Rack(path) as rack:
        rack.connection.execute("PRAGMA user_version = 99")
    with pytest.raises(RackError, match="later version"):
        Rack(path)


def test_another_programs_database_is_left_alone(tmp_path):
    path = tmp_path / "other.db"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE offcut (id)")
    other.commit()
    other.close()
    with pytest.raises(RackError, match="another program"):
        Rack(path)
    assert [row[0] for row in sqlite3.connect(path).execute("SELECT name FROM sqlite_master")] == ["offcut"]


@pytest.mark.parametrize(
    "content", [b"no database at all, but long enough to look at" * 50, b"SQLite format 3\0junk" * 99]
)
def test_a_file_that_is_no_database_is_one_sentence(tmp_path, content):
    path = tmp_path / "notes.txt"
    path.write_bytes(content)
    with pytest.raises(RackError, match=r"damaged or no rack|failed"):
        Rack(path)
    assert path.read_bytes() == content


def test_a_rack_another_program_is_writing_to_is_waited_for_then_said(tmp_path):
    path = tmp_path / "rack.db"
    with Rack(path) as first, Rack(path, busy_s=0.05) as second:
        with first.transaction(), pytest.raises(RackError, match="in use by another program"):
            second.keep([sample()])
        second.keep([sample()])
        assert len(first.offcuts()) == 1
