"""`letterbed compare JOB`: stock sizes side by side."""

from __future__ import annotations

import argparse
from concurrent.futures import Executor
from typing import TYPE_CHECKING

from app.commands.options import (
    OptionError,
    add_effort,
    add_rack_file,
    effort_of,
    length,
    material_of,
    open_rack,
    prepared_job,
    rack_is_there,
    told_on_terminal,
)

if TYPE_CHECKING:
    from app.output.compare_tables import Compared
    from app.planning.choices import Choice
    from app.planning.compare import Effort
    from app.planning.prepare import Prepared
    from app.stock.book import Cutter
    from app.stock.rack_items import RackOffcut


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "compare",
        help="stock sizes side by side: sheets, cost, yield, offcuts, time",
        description="Plan the same job on each stock size alone, on pairs, on all together, with and without the rack, "
        "with equal effort each, and say which to take. Exit status 1 when no choice places every part.",
    )
    parser.add_argument("job", metavar="JOB", help="job file")
    add_effort(parser, each="each choice")
    parser.add_argument("--material", metavar="ID", help="compare for one material only")
    parser.add_argument(
        "--sizes",
        choices=("job", "book"),
        default="job",
        help="sizes of the job's own stock, or all that the stock book has for the material",
    )
    parser.add_argument("--no-rack", action="store_true", help="leave the rack out")
    add_rack_file(parser)
    parser.add_argument("--spacing", action="append", default=[], metavar="LENGTH", help="another spacing; repeat")
    parser.add_argument("--margin", action="append", default=[], metavar="LENGTH", help="another margin; repeat")
    parser.add_argument("--cutter", action="append", default=[], metavar="ID", help="another cutter; repeat")
    parser.add_argument("--json", action="store_true", help="print JSON instead of text")
    for kind in ("csv", "pdf", "svg"):
        parser.add_argument(f"--{kind}", metavar="FILE", help=f"write {kind.upper()} too")
    parser.set_defaults(run=run)


def run(chosen: argparse.Namespace, *, executor: Executor | None = None) -> int:
    """Compare and print; another `executor` does the work elsewhere."""
    import json

    from app.output.compare_tables import compare_json, compare_text, compared
    from app.planning.compare import compare

    prepared = prepared_job(chosen.job)
    choices = _choices(chosen, prepared)
    told = told_on_terminal("choice")
    done = 0

    def count(index: int, outcome: object) -> None:
        nonlocal done
        done += 1
        told(done, len(choices))

    effort = effort_of(chosen, prepared.job)
    found = compared(prepared.job, compare(prepared, choices, effort, executor=executor, on_done=count))
    _write(chosen, prepared, found, effort)
    if chosen.json:
        print(json.dumps(compare_json(prepared.job, found, effort), indent=1, ensure_ascii=False))
    else:
        print(compare_text(prepared.job, found))
    return 0 if all(one.advice.index is not None for one in found) else 1


def _choices(chosen: argparse.Namespace, prepared: Prepared) -> list[Choice]:
    from app.planning.job_choices import job_choices, known_cutters
    from app.stock.shop_book import shop_book

    job, book = prepared.job, shop_book()
    cutters = known_cutters(job, book)
    return list(
        job_choices(
            prepared,
            book,
            materials={material_of(job, chosen.material)} if chosen.material else None,
            whole_book=chosen.sizes == "book",
            pieces=_pieces(chosen, job.name),
            spacings=[length("--spacing", text) for text in chosen.spacing],
            margins=[length("--margin", text) for text in chosen.margin],
            cutters=[_cutter(name, cutters) for name in chosen.cutter],
        )
    )


def _pieces(chosen: argparse.Namespace, job: str) -> tuple[RackOffcut, ...]:
    if chosen.no_rack or not rack_is_there(chosen):
        return ()
    with open_rack(chosen) as rack:
        return rack.free_for(job)


def _cutter(name: str, cutters: dict[str, Cutter]) -> Cutter:
    from app.job.names import unknown

    if name not in cutters:
        raise OptionError(f"--cutter: {unknown(name, cutters, what='a cutter of the job or the stock book')}")
    return cutters[name]


def _write(chosen: argparse.Namespace, prepared: Prepared, found: tuple[Compared, ...], effort: Effort) -> None:
    from datetime import datetime

    from app.output.compare_files import write_comparison

    for kind in ("csv", "pdf", "svg"):
        path = getattr(chosen, kind)
        if path:
            write_comparison(prepared.job, found, effort, path, when=datetime.now(), kind=kind)
