"""What the child processes of test_rack_processes do: `python -m tests.app.stock.rack_worker ...`."""

from __future__ import annotations

import dataclasses
import json
import os
import random
import select
import signal
import sys
import time
from collections import Counter
from pathlib import Path

from app.job.document import Job
from app.job.file import read_job, write_job
from app.stock.cut_sheets import CutPiece, JobKey, SheetCut, book_cut
from app.stock.on_hand import on_hand, set_on_hand
from app.stock.rack import Rack
from app.stock.rack_items import OffcutStatus, RackError, RackEvent, rectangle_offcut

START_COUNT = 50_000
KEY = JobKey("/jobs/hall.json", "hall")
PIECES, OFFCUTS = 5, 2
LEAVES = {
    RackEvent.KEPT: OffcutStatus.KEPT,
    RackEvent.RESERVED: OffcutStatus.RESERVED,
    RackEvent.RELEASED: OffcutStatus.KEPT,
    RackEvent.TAKEN: OffcutStatus.TAKEN,
    RackEvent.RETURNED: OffcutStatus.KEPT,
    RackEvent.USED: OffcutStatus.USED,
    RackEvent.DISCARDED: OffcutStatus.DISCARDED,
}
JOB = Job(name="hall", artwork=(), builds=(), materials=(), cutters=(), stock=(), notes="0")


def grab(path: str, name: str, start: str) -> list[int]:
    """Take whatever is free until nothing is; the numbers this process was given."""
    got: list[int] = []
    rng = random.Random(name)
    Path(start).with_name(f"ready-{name}").touch()
    while not os.path.exists(start):
        time.sleep(0.001)
    with Rack(path) as rack:
        while free := rack.free_for(name):
            piece = rng.choice(free)
            try:
                if rng.random() < 0.5:
                    rack.reserve([piece.id], name)
                rack.take([piece.id], job=name)
            except RackError:
                continue  # the other process was quicker
            got.append(piece.id)
    return got


def _book(plan: str, number: int) -> SheetCut:
    return SheetCut(
        job=KEY,
        plan=plan,
        number=number,
        stock="s",
        material="alu",
        offcut=None,
        pieces=tuple(CutPiece("face", copy, "x") for copy in range(PIECES)),
        offcuts=tuple(rectangle_offcut("alu", 1.6, 600, 300, job="hall", note=plan) for _ in range(OFFCUTS)),
    )


def _work(folder: Path, life: int, tell: int) -> None:
    """Write to rack and job without end; each finished write is told through the pipe."""
    rng = random.Random(life)

    def say(*words: object) -> None:
        os.write(tell, (json.dumps(words) + "\n").encode())

    job_file = folder / "job.json"
    count = int(read_job(job_file).notes)
    with Rack(folder / "rack.db") as rack:
        for number in range(1, 1_000_000):
            act = rng.choice(("keep", "take", "book", "job", "discard"))
            if act == "keep":
                (piece,) = rack.keep([rectangle_offcut("alu", 1.6, 500, 400)])
                say("offcut", piece.id, "kept")
                rack.reserve([piece.id], "hall")
                say("offcut", piece.id, "reserved")
            elif act == "book":
                plan = f"{life}-{number}"
                book_cut(rack, _book(plan, 1))
                say("plan", plan)
            elif act == "job":
                count += 1
                write_job(dataclasses.replace(JOB, notes=str(count)), job_file)
                say("job", count)
            elif reserved := [one for one in rack.offcuts() if one.reserved_for]:
                piece = rng.choice(reserved)
                rack.take([piece.id], job="hall")
                say("offcut", piece.id, "taken")
                if act == "discard":
                    rack.discard([piece.id])
                    say("offcut", piece.id, "discarded")


def _faults(folder: Path, told: list[list[object]]) -> list[str]:
    """Everything that is not as it must be after a kill."""
    found: list[str] = []
    said_last = {str(one[1]): str(one[2]) for one in told if one[0] == "offcut"}
    order = ["kept", "reserved", "taken", "discarded"]
    with Rack(folder / "rack.db") as rack:
        found += rack.check()
        for number, state in said_last.items():
            if order.index(rack.offcut(int(number)).status) < order.index(state):
                found.append(f"offcut {number} was told to be {state} and is not")
        plans = {row["plan"] for row in rack.connection.execute("SELECT plan FROM cut_sheet")}
        found += [f"booking {one[1]} is lost" for one in told if one[0] == "plan" and one[1] not in plans]
        if on_hand(rack)["s"] != START_COUNT - len(plans):
            found.append(f"{len(plans)} sheets booked, but {on_hand(rack)['s']} left of {START_COUNT}")
        pieces = Counter(row[0] for row in rack.connection.execute("SELECT cut_sheet FROM piece"))
        if len(pieces) != len(plans) or set(pieces.values()) - {PIECES}:
            found.append("a booking has not all its pieces")
        notes = Counter(row[0] for row in rack.connection.execute("SELECT note FROM offcut WHERE note <> ''"))
        if set(notes) != plans or set(notes.values()) - {OFFCUTS}:
            found.append("a booking has not all its offcuts")
        latest = rack.connection.execute(
            "SELECT offcut.id, offcut.status, event.what FROM offcut JOIN event ON event.id = "
            "(SELECT max(id) FROM event WHERE event.offcut = offcut.id)"
        ).fetchall()
        found += [
            f"offcut {row[0]} is {row[1]} after {row[2]}" for row in latest if LEAVES[RackEvent(row[2])] != row[1]
        ]
    counts = [one[1] for one in told if one[0] == "job"]
    there = int(read_job(folder / "job.json").notes)
    if counts and there not in (counts[-1], int(str(counts[-1])) + 1):
        found.append(f"job version {counts[-1]} was written, {there} is there")
    return found


def _lines(pipe: int, count: int) -> bytes:
    """What comes through a pipe until so many lines are there, or five seconds have gone."""
    read = b""
    deadline = time.monotonic() + 5.0
    while read.count(b"\n") < count and time.monotonic() < deadline:
        if select.select([pipe], [], [], 0.05)[0]:
            read += os.read(pipe, 4096)
    return read


def kill_often(folder: Path, kills: int, seed: int) -> dict[str, object]:
    """Fork a writer, kill it at a random moment, look at everything; `kills` times over the same files."""
    rng = random.Random(seed)
    write_job(JOB, folder / "job.json")
    with Rack(folder / "rack.db") as rack:
        set_on_hand(rack, {"s": START_COUNT}, materials={"s": "alu"})
    writes = 0
    found: list[str] = []
    for life in range(kills):
        ours, theirs = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(ours)
            _work(folder, life, theirs)
        os.close(theirs)
        # At any point of its start or of its first few writes, however fast this machine is at the moment.
        early = _lines(ours, rng.randint(0, 5))
        time.sleep(rng.uniform(0.0, 0.006))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        if os.WTERMSIG(status) != signal.SIGKILL:
            found.append(f"writer {life} ended by itself with status {status}")
        with os.fdopen(ours, "rb") as pipe:
            told = [json.loads(line) for line in (early + pipe.read()).splitlines()]
        writes += len(told)
        found += [f"kill {life}: {fault}" for fault in _faults(folder, told)]
    return {"kills": kills, "writes": writes, "faults": found}


if __name__ == "__main__":
    if sys.argv[1] == "grab":
        print(json.dumps(grab(*sys.argv[2:5])))
    else:
        print(json.dumps(kill_often(Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))))
