"""The planning child process: runs, cancels, fails and crashes are all messages."""

from __future__ import annotations

import dataclasses
import os
import time

import pytest

from app.job.kept import KeptPart, KeptPlan, KeptSheet
from app.planning.host import Crashed, Failed, Finished, Message, PlanHost, Progressed, RunState
from nesting.plan import Placement
from tests.app.planning.small_jobs import prepared_squares


@pytest.fixture
def host():
    one = PlanHost()
    yield one
    one.close()


def until(host: PlanHost, kind: type, *, limit_s: float = 120.0) -> list[Message]:
    """Poll until a message of `kind` is there; everything received up to it."""
    seen: list[Message] = []
    deadline = time.monotonic() + limit_s
    while time.monotonic() < deadline:
        seen += host.poll()
        if any(isinstance(message, kind) for message in seen):
            return seen
        time.sleep(0.02)
    raise AssertionError(f"no {kind.__name__} within {limit_s} s, only {[type(message).__name__ for message in seen]}")


def test_a_run_finishes_with_every_part_placed(host):
    run = host.start(prepared_squares(21), seconds=0.0)
    assert host.state is RunState.RUNNING
    finished = until(host, Finished)[-1]
    assert finished.run == run
    assert not finished.cancelled
    assert sum(len(sheet.placed) for sheet in finished.plan.sheets) == 21
    assert host.state is RunState.FINISHED


def test_cancelling_a_long_run_brings_the_best_plan_soon(host):
    host.start(prepared_squares(40), seconds=600.0)
    until(host, Progressed)
    time.sleep(0.5)
    host.cancel()
    assert host.state is RunState.STOPPING
    finished = until(host, Finished, limit_s=30.0)[-1]
    assert finished.cancelled or finished.plan.unplaced == ()
    assert host.state in (RunState.CANCELLED, RunState.FINISHED)


def test_a_job_that_cannot_be_planned_fails_with_a_sentence(host):
    prepared = prepared_squares(1)
    host.start(dataclasses.replace(prepared, job=dataclasses.replace(prepared.job, stock=())), seconds=0.0)
    failed = until(host, Failed)[-1]
    assert "no stock to cut them from" in failed.message
    assert failed.trace == ""
    assert host.state is RunState.FAILED


def test_a_new_run_replaces_the_one_under_way(host):
    host.start(prepared_squares(40), seconds=600.0)
    second = host.start(prepared_squares(3), seconds=0.0)
    messages = until(host, Finished)
    assert {message.run for message in messages} == {second}


def test_a_child_that_dies_is_a_message_and_the_next_run_works():
    host = PlanHost()
    try:
        host.start(prepared_squares(40), seconds=600.0)
        until(host, Progressed)
        host._child.kill()
        until(host, Crashed)
        assert host.state is RunState.CRASHED
        host.start(prepared_squares(3), seconds=0.0)
        until(host, Finished)
        assert host.state is RunState.FINISHED
    finally:
        host.close()


def test_killing_leaves_no_process_behind():
    host = PlanHost()
    host.start(prepared_squares(40), seconds=600.0)
    child = host._child
    pid = child.pid
    host.kill()
    assert host.state is RunState.CANCELLED
    assert host.poll() == []
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_a_run_that_is_paused_stands_still_and_goes_on_with_its_time_left(host):
    host.start(prepared_squares(40), seconds=2.0)
    until(host, Progressed)
    host.pause()
    assert host.state is RunState.PAUSED
    time.sleep(0.3)
    host.poll()  # what was on its way
    time.sleep(2.5)  # longer than the run has time for
    assert not host.poll()
    host.go_on()
    assert host.state is RunState.RUNNING
    finished = until(host, Finished, limit_s=30.0)[-1]
    assert not finished.cancelled
    assert finished.plan.seconds < 2.5


def test_a_paused_run_can_be_cancelled(host):
    host.start(prepared_squares(40), seconds=600.0)
    until(host, Progressed)
    host.pause()
    host.cancel()
    assert host.state is RunState.STOPPING
    until(host, Finished, limit_s=30.0)


def test_what_is_locked_in_the_kept_plan_is_planned_around_in_the_child(host):
    prepared = prepared_squares(3)
    at = Placement("square", 1, 500.0, 700.0, 90.0)
    kept = KeptPlan((KeptSheet("s", (KeptPart(at, True),)),))
    host.start(dataclasses.replace(prepared, job=dataclasses.replace(prepared.job, plan=kept)), seconds=0.0)
    (sheet,) = until(host, Finished)[-1].plan.sheets
    assert len(sheet.placed) == 3
    assert [one.placement for one in sheet.placed if one.is_locked] == [at]
