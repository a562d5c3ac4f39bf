"""Options that several commands share, and how their values are read."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from app.errors import AppError, JobError
from geometry.errors import GeometryError
from geometry.units import parse_length

if TYPE_CHECKING:
    from app.job.document import Job
    from app.planning.compare import Effort
    from app.planning.prepare import Prepared
    from app.stock.rack import Rack

Value = TypeVar("Value")


class OptionError(AppError):
    """An option whose value makes no sense."""


def add_rack_file(parser: argparse.ArgumentParser) -> None:
    """`--rack-file FILE`."""
    parser.add_argument(
        "--rack-file",
        metavar="FILE",
        help="the rack's file (the LETTERBED_RACK environment variable, else the user's data folder, when left out)",
    )


def add_effort(parser: argparse.ArgumentParser, *, each: str) -> None:
    """`--seconds`, `--rounds`, `--seed`."""
    parser.add_argument("--seconds", type=float, metavar="S", help=f"time for {each} (the job's own when left out)")
    parser.add_argument("--rounds", type=int, metavar="N", help=f"rounds for {each} instead of time: repeats exactly")
    parser.add_argument("--seed", type=int, metavar="N", help="seed of the search (the job's own when left out)")


def open_rack(chosen: argparse.Namespace) -> Rack:
    """The rack that the options name; made when it is not there yet."""
    from app.stock.rack import Rack

    return Rack(chosen.rack_file)


def rack_is_there(chosen: argparse.Namespace) -> bool:
    """Whether the rack's file exists, so that commands that only look do not make one."""
    from app.stock.rack_file import rack_place

    return os.path.exists(chosen.rack_file or rack_place())


def effort_of(chosen: argparse.Namespace, job: Job) -> Effort:
    """Effort per choice or plan, as the options say, else as the job says."""
    from app.planning.compare import Effort

    return Effort(
        seconds=job.seconds if chosen.seconds is None else chosen.seconds,
        rounds=chosen.rounds,
        seed=job.seed if chosen.seed is None else chosen.seed,
    )


def prepared_job(path: str) -> Prepared:
    """The job of a file with its parts."""
    from app.job.file import read_job
    from app.planning.prepare import prepare

    return prepare(read_job(path))


def length(option: str, text: str) -> float:
    """A length in mm; the error names the option."""
    try:
        value = parse_length(text)
    except GeometryError as error:
        raise OptionError(f"{option}: {error}") from error
    if value < 0.0:
        raise OptionError(f"{option}: '{text}' is below 0")
    return value


def size(option: str, text: str) -> tuple[float, float]:
    """Width and height in mm of "24in x 36in" or "600mm x 900mm"; one unit behind both does as well: "24 x 36 in"."""
    sides = text.lower().replace("×", "x").split("x")
    if len(sides) != 2:
        raise OptionError(f"{option}: '{text}' is not a size; write it like \"24in x 36in\"")
    first, second = (side.strip() for side in sides)
    if first and first[-1].isdigit() and second:
        first += second.lstrip("0123456789./ -")
    return length(option, first), length(option, second)


def named(option: str, texts: list[str] | None, read: Callable[[str, str], Value]) -> dict[str, Value]:
    """Values of a repeated option "NAME=VALUE", by name; `read` gets what to call the value, and its text."""
    values: dict[str, Value] = {}
    for text in texts or []:
        name, sign, value = text.partition("=")
        if not sign or not name.strip() or not value.strip():
            raise OptionError(f"{option}: '{text}' is not NAME=VALUE")
        values[name.strip()] = read(f"{option} {name.strip()}", value.strip())
    return values


def told_on_terminal(what: str) -> Callable[[int, int], None]:
    """A reporter of "what 3 of 20" on standard error; silent when that is not a terminal."""

    def told(done: int, total: int) -> None:
        if sys.stderr.isatty():
            end = "\n" if done == total else ""
            sys.stderr.write(f"\r{what} {done} of {total}{end}")
            sys.stderr.flush()

    return told


def material_of(job: Job, wanted: str) -> str:
    """A material id of the job, or one sentence with the nearest."""
    from app.job.names import unknown

    ids = [material.id for material in job.materials]
    if wanted not in ids:
        raise JobError(unknown(wanted, ids, what="a material of this job"))
    return wanted
