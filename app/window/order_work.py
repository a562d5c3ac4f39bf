"""What an order is asked for, and the making of it: on a thread, with a rack connection of its own."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.window.services import Services

if TYPE_CHECKING:
    from app.planning.order import Order
    from app.planning.prepare import Prepared


@dataclass(frozen=True, slots=True)
class Wanted:
    """What an order is asked for: other jobs by their files, what is taken off, spares, and time for each choice."""

    others: tuple[str, ...]
    takes_hand: bool
    takes_rack: bool
    spare_above: int
    matched: frozenset[str]
    seconds: float


def make_order(
    own: Prepared, wanted: Wanted, services: Services, told: Callable[[int, int], None], stopped: Callable[[], bool]
) -> Order:
    """The order of this job and others; on a thread, with a rack connection of its own."""
    from app.planning.compare import Effort
    from app.planning.mix import SpareRule
    from app.planning.order import OrderStock
    from app.stock.on_hand import on_hand
    from app.stock.rack import Rack
    from app.stock.rack_file import rack_place
    from app.stock.shop_book import shop_book

    jobs = [own, *(services.prepare(services.read_job(path), lambda _share, _text: None) for path in wanted.others)]
    hand, pieces = {}, {}
    if os.path.exists(rack_place()):
        with Rack() as rack:
            hand = on_hand(rack) if wanted.takes_hand else {}
            pieces = {one.job.name: rack.free_for(one.job.name) for one in jobs} if wanted.takes_rack else {}
    effort = Effort(wanted.seconds, seed=own.job.seed)
    spare = SpareRule(above=wanted.spare_above, lot_matched=wanted.matched)
    return services.plan_order(jobs, OrderStock(shop_book(), hand, pieces), effort, spare, told, stopped)
