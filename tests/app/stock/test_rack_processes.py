"""The rack under several programs at once, and under programs that are killed."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from app.stock.rack import Rack
from app.stock.rack_items import OffcutStatus, rectangle_offcut

REPOSITORY = Path(__file__).resolve().parents[3]


def worker(*arguments: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.app.stock.rack_worker", *map(str, arguments)],
        cwd=REPOSITORY,
        stdout=subprocess.PIPE,
        text=True,
    )


def answer(process: subprocess.Popen[str]) -> object:
    out, _ = process.communicate(timeout=200)
    assert process.returncode == 0
    return json.loads(out)


def started_together(path: Path, start: Path) -> list[subprocess.Popen[str]]:
    """Two grabbing processes that begin at the same moment, however long each takes to get ready."""
    names = ("hall", "café")
    both = [worker("grab", path, name, start) for name in names]
    deadline = time.monotonic() + 60.0
    while not all(start.with_name(f"ready-{name}").exists() for name in names) and time.monotonic() < deadline:
        time.sleep(0.005)
    start.touch()
    return both


def test_two_programs_hammering_the_rack_never_get_the_same_piece(tmp_path):
    path, start = tmp_path / "rack.db", tmp_path / "start"
    with Rack(path) as rack:
        kept = rack.keep([rectangle_offcut("alu", 1.6, 600, 300) for _ in range(120)])
    both = started_together(path, start)
    hall, cafe = (answer(one) for one in both)
    assert sorted(hall + cafe) == [piece.id for piece in kept]  # each piece once, none left over
    assert hall, "the second program never got its turn"
    assert cafe, "the first program never got its turn"
    with Rack(path) as rack:
        assert rack.check() == ()
        for name, got in (("hall", hall), ("café", cafe)):
            for number in got:
                piece = rack.offcut(number)
                assert (piece.status, piece.reserved_for) == (OffcutStatus.TAKEN, name)
                assert [entry.what.value for entry in rack.history(number)].count("taken") == 1


def test_two_programs_may_make_the_file_at_the_same_moment(tmp_path):
    start = tmp_path / "start"
    both = started_together(tmp_path / "new" / "rack.db", start)
    assert [answer(one) for one in both] == [[], []]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the writers are forked; this system has no fork")
def test_killed_at_200_random_moments_nothing_finished_is_lost_and_nothing_is_half_done(tmp_path):
    done = answer(worker("kill", tmp_path, 200, 20260301))
    assert done["faults"] == []
    assert done["kills"] == 200
    assert done["writes"] > 200, "the writers hardly wrote: the kills proved nothing"
