"""`letterbed recut JOB` plans only what was spoiled, or what is not cut yet; `letterbed cut` books a sheet as cut."""

from __future__ import annotations

import argparse
import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final, TypeVar

from app.commands.options import (
    OptionError,
    add_effort,
    add_rack_file,
    effort_of,
    named,
    open_rack,
    prepared_job,
    size,
)
from app.stock.rack_items import Measured

if TYPE_CHECKING:
    from app.planning.prepare import Prepared
    from app.stock.cut_sheets import JobKey
    from app.stock.rack import Rack

Value = TypeVar("Value")

_OFFCUT_NAME: Final = re.compile(r"S([0-9]{2,})-([A-Z]+)")


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add both commands."""
    recut = commands.add_parser(
        "recut",
        help="plan only what was spoiled or lost, or only what is not cut yet",
        description="Plan again only the parts that were spoiled or lost (--parts), from the rack first; or plan anew "
        "everything that is not booked as cut yet (--rest), with the cut sheets locked. Writes cut files of its own.",
    )
    recut.add_argument("job", metavar="JOB", help="job file")
    which = recut.add_mutually_exclusive_group(required=True)
    which.add_argument(
        "--parts",
        nargs="+",
        metavar="PART",
        help="part id, PART=2 for two pieces, or a letter's id for one of each of its parts",
    )
    which.add_argument("--rest", action="store_true", help="everything that is not cut yet")
    which.add_argument("--list", action="store_true", help="what has been cut and recut so far")
    recut.add_argument("--out", metavar="DIR", help="folder to write; replaced when it holds an earlier plan")
    recut.add_argument("--lost", action="store_true", help="the pieces are lost, not spoiled")
    recut.add_argument("--note", default="", metavar="TEXT", help="what happened")
    recut.add_argument("--no-rack", action="store_true", help="leave the rack's pieces alone")
    add_effort(recut, each="the plan")
    add_rack_file(recut)
    recut.set_defaults(run=_recut)

    cut = commands.add_parser(
        "cut",
        help="book sheets of a plan as cut",
        description="Book sheets as cut: the sheet leaves the stock, its pieces are written down for the job, and its "
        "offcuts go onto the rack, all in one step. Offcuts are named as on their labels: S02-A.",
    )
    cut.add_argument("job", metavar="JOB", help="job file")
    cut.add_argument("plan", metavar="DIR", help="folder of the plan that was cut")
    cut.add_argument("sheets", type=int, nargs="+", metavar="N", help="number of the sheet")
    cut.add_argument(
        "--measured", action="append", metavar="NAME=WxH", help='size found on an offcut, "S02-A=24in x 36in"; repeat'
    )
    cut.add_argument("--slot", action="append", metavar="NAME=PLACE", help="place of an offcut on the rack; repeat")
    cut.add_argument("--lot", default="", metavar="TEXT", help="lot of the sheet, handed on to its offcuts")
    add_rack_file(cut)
    cut.set_defaults(run=_cut)


def _recut(chosen: argparse.Namespace) -> int:
    from app.planning.recut import only, still_to_cut, wanted_parts
    from app.stock.cut_sheets import job_key, pieces_cut

    prepared = prepared_job(chosen.job)
    key = job_key(chosen.job, prepared.job.name)
    with open_rack(chosen) as rack:
        if chosen.list:
            return _history(rack, key)
        if chosen.out is None:
            raise OptionError("recut needs --out DIR to write the cut files to")
        if chosen.parts:
            return _plan(chosen, rack, key, only(prepared, wanted_parts(prepared, chosen.parts)))
        rest = still_to_cut(prepared, pieces_cut(rack, key))
        for finding in rest.findings:
            print(finding.message)
        if not rest.prepared.parts:
            print(f"every part of '{prepared.job.name}' is cut; nothing is left to plan")
            return 0
        return _plan(chosen, rack, key, rest.prepared)


def _plan(chosen: argparse.Namespace, rack: Rack, key: JobKey, prepared: Prepared) -> int:
    from dataclasses import replace
    from datetime import datetime
    from pathlib import Path

    from app.output.plan_text import plan_text
    from app.output.recut_files import write_recut
    from app.output.write import check_folder
    from app.planning.plan_job import PlanRun, plan_job
    from app.planning.rack_stock import with_rack
    from app.planning.recut import planned_twice
    from app.stock.cut_sheets import PieceStatus, waiting_recuts

    check_folder(chosen.out)
    job = prepared.job if chosen.no_rack else with_rack(prepared.job, rack, takes_reserved=not chosen.parts)
    title = f"{job.name}, {'recut' if chosen.parts else 'rest'}"
    effort = effort_of(chosen, job)
    run = PlanRun(effort.seconds, effort.rounds, effort.seed)
    planned = plan_job(replace(prepared, job=replace(job, name=title)), run)
    counts = {part.id: part.quantity for part in prepared.parts}
    for finding in planned_twice(counts, waiting_recuts(rack, key), str(Path(chosen.out).absolute())):
        print(finding.message)
    status = None
    if chosen.parts:
        status = PieceStatus.LOST if chosen.lost else PieceStatus.SPOILED
    made = write_recut(rack, key, planned, chosen.out, counts, when=datetime.now(), status=status, note=chosen.note)
    print(plan_text(planned))
    if status is not None:
        asked = sum(counts.values())
        print(f"{made.marked} of {asked} pieces marked as {status}" + _unbooked(asked - made.marked))
    if made.offcuts:
        print(f"reserved on the rack: {', '.join(f'offcut {number}' for number in made.offcuts)}")
    print(f"\n{len(made.written.files)} files in {made.written.folder}")
    return 0 if planned.is_complete else 1


def _unbooked(count: int) -> str:
    return f"; {count} come from sheets that were never booked as cut" if count else ""


def _history(rack: Rack, key: JobKey) -> int:
    from collections import Counter

    from app.stock.cut_sheets import pieces_cut, recuts

    pieces = pieces_cut(rack, key)
    counts = Counter(piece.status.value for piece in pieces)
    sheets = len({(piece.plan, piece.sheet) for piece in pieces})
    said = ", ".join(f"{count} {status}" for status, count in counts.items()) or "no pieces"
    print(f"{key.name}: {sheets} {'sheet' if sheets == 1 else 'sheets'} booked as cut, {said}")
    for one in recuts(rack, key):
        words = ", ".join(f"{part} x {count}" for part, count in one.parts)
        when = f"{one.at:%Y-%m-%d %H:%M} UTC" if one.at else ""
        print(f"  {when}  {one.folder}: {words}{f' ({one.note})' if one.note else ''}")
    return 0


def _cut(chosen: argparse.Namespace) -> int:
    from app.job.file import read_job
    from app.output.plan_folder import cut_from_folder
    from app.output.words import counted, offcut_name
    from app.planning.recut import is_cut_elsewhere, surplus
    from app.stock.cut_sheets import book_cut, job_key, pieces_cut

    job = read_job(chosen.job)
    key = job_key(chosen.job, job.name)
    measured = _by_sheet(chosen.sheets, named("--measured", chosen.measured, _measured))
    slots = _by_sheet(chosen.sheets, named("--slot", chosen.slot, lambda option, text: text))
    thickness = {material.id: material.thickness for material in job.materials}
    cuts = [
        cut_from_folder(
            chosen.plan,
            number,
            key,
            thickness=thickness,
            measured=measured.get(number, {}),
            slots=slots.get(number, {}),
            lot=chosen.lot,
        )
        for number in chosen.sheets
    ]
    with open_rack(chosen) as rack:
        for cut in cuts:
            booked = book_cut(rack, cut)
            print(f"sheet {cut.number}: {counted(len(cut.pieces), 'piece')} cut" + _left(booked.left_on_hand))
            for index, number in enumerate(booked.offcuts):
                print(f"  {offcut_name(cut.number, index)} is offcut {number} on the rack")
        pieces = pieces_cut(rack, key)
        twice = [cut for cut in cuts if is_cut_elsewhere(pieces, cut)]
        if twice:  # only then is it worth deriving the job's parts to count them
            prepared = prepared_job(chosen.job)
            for finding in dict.fromkeys(one for cut in twice for one in surplus(prepared, pieces, cut)):
                print(finding.message)
    return 0


def _left(count: int | None) -> str:
    return "" if count is None else f", {count} of this size left on hand"


def _measured(option: str, text: str) -> Measured:
    return Measured(*size(option, text))


def _by_sheet(sheets: Sequence[int], values: Mapping[str, Value]) -> dict[int, dict[int, Value]]:
    """Values by sheet and by the offcut's index on it, from names like "S02-A"."""
    found: dict[int, dict[int, Value]] = {}
    for name, value in values.items():
        match = _OFFCUT_NAME.fullmatch(name.upper())
        if match is None:
            raise OptionError(f"'{name}' is not the name of an offcut; it stands on its label, like S02-A")
        if int(match[1]) not in sheets:
            raise OptionError(f"offcut {name} is of sheet {int(match[1])}, which is not among the sheets named")
        index = 0
        for letter in match[2]:
            index = index * 26 + ord(letter) - ord("A") + 1
        found.setdefault(int(match[1]), {})[index - 1] = value
    return found
