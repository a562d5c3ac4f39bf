"""`letterbed order JOB...`: one buy list for several jobs."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from app.commands.options import (
    add_effort,
    add_rack_file,
    effort_of,
    open_rack,
    prepared_job,
    rack_is_there,
    told_on_terminal,
)

if TYPE_CHECKING:
    from app.planning.order import Order
    from app.planning.prepare import Prepared


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "order",
        help="one buy list for several jobs",
        description="Nest every job, take off what is on hand and what the rack can give, add spares by rule, keep "
        "minimum orders, and find the cheapest mix. Exit status 1 when a part fits no sheet.",
    )
    parser.add_argument("jobs", nargs="+", metavar="JOB", help="job file")
    add_effort(parser, each="each choice of stock")
    parser.add_argument("--out", metavar="DIR", help="folder for order.csv, order.xlsx and order.pdf")
    parser.add_argument(
        "--plans", action="store_true", help="write each job's plan too, so that what is cut is what was bought"
    )
    parser.add_argument("--reserve", action="store_true", help="reserve the rack's pieces that the plans use")
    parser.add_argument("--no-rack", action="store_true", help="leave the rack out")
    parser.add_argument("--no-hand", action="store_true", help="buy everything, whatever is on hand")
    parser.add_argument(
        "--spare-above", type=int, default=5, metavar="N", help="one spare for a material that takes more sheets (5)"
    )
    parser.add_argument(
        "--matched", action="append", default=[], metavar="ID", help="material of one lot: always a spare; repeat"
    )
    add_rack_file(parser)
    parser.set_defaults(run=_run)


def _run(chosen: argparse.Namespace) -> int:
    from app.commands.options import OptionError
    from app.output.order_tables import order_text
    from app.planning.mix import SpareRule
    from app.planning.order import OrderStock, plan_order
    from app.stock.on_hand import on_hand
    from app.stock.shop_book import shop_book

    if chosen.plans and not chosen.out:
        raise OptionError("--plans needs --out DIR to write the plans to")
    if chosen.spare_above < 0:
        raise OptionError(f"--spare-above {chosen.spare_above} is below 0; give 0 or more")
    jobs = [prepared_job(path) for path in chosen.jobs]
    hand, pieces = {}, {}
    if rack_is_there(chosen):
        with open_rack(chosen) as rack:
            hand = {} if chosen.no_hand else on_hand(rack)
            pieces = {} if chosen.no_rack else {one.job.name: rack.free_for(one.job.name) for one in jobs}
    order = plan_order(
        jobs,
        OrderStock(shop_book(), hand, pieces),
        effort_of(chosen, jobs[0].job),
        spare=SpareRule(above=chosen.spare_above, lot_matched=frozenset(chosen.matched)),
        on_done=told_on_terminal("choice"),
    )
    if chosen.reserve and order.offcuts:
        with open_rack(chosen) as rack:
            rack.reserve_for({one.number: one.job for one in order.offcuts})
    print(order_text(order))
    if chosen.out:
        _write(chosen, order, jobs)
    return 1 if order.unplaced else 0


def _write(chosen: argparse.Namespace, order: Order, jobs: list[Prepared]) -> None:
    from datetime import datetime
    from pathlib import Path

    from app.output.order_files import write_order
    from app.output.write import write_plan
    from app.planning.plan_job import plain_name

    when = datetime.now()
    files = write_order(order, chosen.out, when=when, units=jobs[0].job.units)
    if chosen.plans:
        for number, plan in enumerate(order.plans, start=1):
            folder = Path(chosen.out) / f"{number:02d}-{plain_name(plan.job.name)}"
            files += write_plan(plan, folder, when=when).files
    print(f"\n{len(files)} files in {chosen.out}")
