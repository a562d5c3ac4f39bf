"""The kept plan: changes by hand as plain functions, and what of it goes into the job file."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import JobError, JobFileError
from app.job.edits import set_plan
from app.job.file import read_job, write_job
from app.job.from_json import job_from_json
from app.job.kept import (
    KeptPart,
    KeptPlan,
    KeptSheet,
    lock_parts,
    lock_sheet,
    move,
    put,
    put_on_new_sheet,
    take_off,
    unlock_all,
)
from app.job.new import new_job
from app.job.to_json import job_text
from nesting.plan import Placement


def at(
    part: str, copy: int, x: float = 0.0, y: float = 0.0, rotation: float = 0.0, mirrored: bool = False
) -> Placement:
    return Placement(part, copy, x, y, rotation, mirrored)


@pytest.fixture
def plan() -> KeptPlan:
    first = KeptSheet("alu", (KeptPart(at("a", 0)), KeptPart(at("a", 1, 300.0))))
    return KeptPlan((first, KeptSheet("alu", (KeptPart(at("b", 0)),))), (("a", "1.00 x 2.00 mm, 2 mm2"),))


def where(plan: KeptPlan) -> list[list[tuple[str, int]]]:
    return [[part.key for part in sheet.parts] for sheet in plan.sheets]


def test_move_changes_the_place_and_nothing_else(plan):
    moved = move(plan, [at("a", 1, 5.0, 6.0, 90.0)])
    assert moved.sheets[0].parts[1].placement == at("a", 1, 5.0, 6.0, 90.0)
    assert (moved.sheets[0].parts[0], moved.sheets[1]) == (plan.sheets[0].parts[0], plan.sheets[1])
    assert moved.is_by_hand
    assert move(plan, [at("a", 1, 300.0)]) is plan


def test_part_put_on_another_sheet_leaves_its_own_and_an_empty_sheet_goes(plan):
    assert where(put(plan, 1, [at("a", 0)])) == [[("a", 1)], [("b", 0), ("a", 0)]]
    assert where(put(plan, 0, [at("b", 0)])) == [[("a", 0), ("a", 1), ("b", 0)]]
    assert where(put_on_new_sheet(plan, "alu", [at("a", 1)], after=0)) == [[("a", 0)], [("a", 1)], [("b", 0)]]


def test_taking_off_and_bringing_back(plan):
    less = take_off(plan, [("a", 0)])
    assert where(less) == [[("a", 1)], [("b", 0)]]
    assert less.sheet_of(("a", 0)) is None
    assert put(less, 0, [at("a", 0)]).sheet_of(("a", 0)) == 0


def test_locks_are_kept_while_parts_move_and_all_come_off_at_once(plan):
    locked = lock_sheet(lock_parts(plan, [("a", 0)], True), 1, True)
    assert locked.has_locks
    assert move(locked, [at("a", 0, 9.0)]).sheets[0].parts[0].is_locked
    assert not unlock_all(locked).has_locks
    assert lock_parts(locked, [("a", 0)], True) is locked


lengths = st.floats(-1e5, 1e5).filter(lambda value: value == 0.0 or abs(value) > 1e-25) | st.sampled_from(
    [1e-17, -3e-9]
)
"""Noise of reckoning included; what is written is no longer than a length may be."""


@settings(max_examples=40, deadline=None)
@given(lengths, lengths, st.floats(0, 359.99), st.booleans(), st.booleans(), st.sampled_from(["in", "mm"]))
def test_kept_plan_reads_back_bit_for_bit(x, y, rotation, mirrored, locked, units):
    part = KeptPart(at('say "a", é', 3, x, y, rotation, mirrored), locked)
    kept = KeptPlan((KeptSheet("alu", (part, KeptPart(at("b", 0))), locked),), (("b", "2.00 x 1.00 mm, 2 mm2"),), True)
    job = replace(new_job("Kept"), plan=kept)
    job = replace(job, units=type(job.units)(units))
    text = job_text(job)
    again = job_from_json(json.loads(text, parse_float=Decimal), folder=job.folder)
    assert again.plan == kept
    assert job_text(again) == text


def test_file_has_one_line_for_each_part(plan, tmp_path):
    path = tmp_path / "job.json"
    job = set_plan(new_job("Kept", folder=str(tmp_path)), plan)
    write_job(job, path)
    lines = [line.strip() for line in path.read_text().splitlines() if '"copy"' in line]
    assert lines[1] == '{"part": "a", "copy": 1, "x": "300.0 mm", "y": "0 in"}'
    assert read_job(path) == job


@pytest.mark.parametrize(
    ("sheets", "said"),
    [
        ([{"stock": "alu", "parts": []}], "sheet 1 holds no part"),
        ([{"stock": "alu", "parts": [{"part": "a", "copy": 0, "x": "1 in", "y": 4}]}], "4 has no unit"),
        ([{"stock": "alu", "parts": [{"part": "a", "copy": -1, "x": "1 in", "y": "1 in"}]}], "copies count from 0"),
        ([{"stock": "alu", "parts": [{"part": "a", "copy": 0, "x": "1e9 in", "y": "1 in"}]}], "nowhere near its sheet"),
        ([{"stock": "alu", "parts": [{"part": "a", "copy": 0, "x": "1 in", "y": "1 in"}] * 2}], "is on sheet 1 too"),
        ([{"stock": "alu", "lock": True, "parts": []}], "lock"),
    ],
)
def test_kept_plan_that_makes_no_sense_is_one_sentence(sheets, said, tmp_path):
    document = json.loads(job_text(new_job("Kept"))) | {"plan": {"sheets": sheets}}
    path = tmp_path / "job.json"
    path.write_text(json.dumps(document))
    with pytest.raises((JobError, JobFileError), match=said) as told:
        read_job(path)
    assert "\n" not in str(told.value)
