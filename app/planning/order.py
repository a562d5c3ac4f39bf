"""One buy list for several jobs: each is nested on several choices of stock, and the cheapest order is put together.

Sheets are counted after nesting, never by dividing areas. What is on hand and what the rack can give is taken off;
spares, minimum orders and the mix over all jobs are settled exactly by `app.planning.mix`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from app.errors import PlanningError
from app.job.document import Job
from app.planning.choices import Choice, stock_choices
from app.planning.compare import Effort, Outcome, compare_tasks
from app.planning.job_plan import JobPlan, UnplacedPart
from app.planning.mix import Mix, Need, Option, Size, SpareRule, cheapest_mix
from app.planning.order_goods import GoodsLine, goods_lines
from app.planning.plan_job import PlanRecord, assemble
from app.planning.prepare import Prepared
from app.planning.rack_stock import offcut_of, rack_sheets
from app.stock.book import Material, StockSheet
from app.stock.rack_items import RackOffcut
from app.stock.shop_book import in_force
from app.stock.supply import SheetOffer, ShopBook
from app.stock.weights import weight


class OrderStopped(PlanningError):
    """An order given up on the way, as was asked."""


@dataclass(frozen=True, slots=True, eq=False)
class OrderStock:
    """What there is to order from: the stock book, what is on hand by stock id, and the rack's free pieces by job."""

    book: ShopBook
    on_hand: Mapping[str, int]
    offcuts: Mapping[str, tuple[RackOffcut, ...]]


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One size of the buy list.

    Fields
    ------
    stock : StockSheet
    material : Material
    used, spare, from_hand, bought : int
        Sheets: used by the plans, kept as spare, of these from what is on hand, and to buy (more than is needed where
        the minimum order asks for it).
    minimum : int
        Fewest sheets an order takes.
    supplier : str
    cost : int or None
        Of what is bought, minor currency units; None when the price is unknown.
    weight_kg : float
        Of what is bought.
    jobs : tuple of (job name, sheets)
    """

    stock: StockSheet
    material: Material
    used: int
    spare: int
    from_hand: int
    bought: int
    minimum: int
    supplier: str
    cost: int | None
    weight_kg: float
    jobs: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class MaterialTotal:
    """Sums of a material: sheets to buy, their cost (None when a price is unknown) and weight."""

    material: Material
    bought: int
    cost: int | None
    weight_kg: float


@dataclass(frozen=True, slots=True)
class OrderOffcut:
    """A piece of the rack that a job takes instead of a bought sheet."""

    number: int
    name: str
    material: Material
    job: str


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """The buy list and the plans it is made for.

    Fields
    ------
    currency : str
    lines : tuple of OrderLine
        Sizes that are used, by material.
    totals : tuple of MaterialTotal
    offcuts : tuple of OrderOffcut
    plans : tuple of JobPlan
        One per job, in order; checked by the referee, fit to be written.
    choices : tuple of (job name, material name, choice name)
        What each plan is cut from.
    unplaced : tuple of (job name, UnplacedPart)
    lacks_spare : bool
        A spare was due and cannot be had.
    goods : tuple of GoodsLine
        Coils, rolls and lengths for the strips of the jobs.
    """

    currency: str
    lines: tuple[OrderLine, ...]
    totals: tuple[MaterialTotal, ...]
    offcuts: tuple[OrderOffcut, ...]
    plans: tuple[JobPlan, ...]
    choices: tuple[tuple[str, str, str], ...]
    unplaced: tuple[tuple[str, UnplacedPart], ...]
    lacks_spare: bool
    goods: tuple[GoodsLine, ...] = ()

    @property
    def cost(self) -> int | None:
        """Of everything bought, minor currency units; None when a price is unknown."""
        costs = self._costs()
        return None if None in costs else self.known_cost

    @property
    def known_cost(self) -> int:
        """Of what has a price, minor currency units."""
        return sum(cost for cost in self._costs() if cost is not None)

    def _costs(self) -> list[int | None]:
        return [line.cost for line in self.lines if line.bought] + [line.cost for line in self.goods]


def plan_order(
    jobs: Sequence[Prepared],
    stock: OrderStock,
    effort: Effort,
    *,
    spare: SpareRule | None = None,
    executor: Executor | None = None,
    on_done: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> Order:
    """Nest every job on its choices of stock and put the cheapest order together.

    Parameters
    ----------
    jobs : sequence of Prepared
        With different names; all in one currency.
    stock : OrderStock
    effort : Effort
        For each choice of each material of each job.
    spare : SpareRule, optional
    executor : Executor, optional
        As in `app.planning.compare.compare`.
    on_done : callable, optional
        Gets how many choices are done, and of how many.
    cancelled : callable
        Asked several times a second; once true the order is given up.

    Raises
    ------
    OrderStopped
        When it was cancelled.
    PlanningError
        When the jobs do not go together, or no mix can be had.
    """
    currency = _one_currency(jobs)
    jobs = [replace(one, job=_job_in_force(one.job, stock.book)) for one in jobs]
    sizes = _sizes(jobs)
    wanted = [(one, material) for one in jobs for material in one.job.materials if _parts_of(one, material)]
    tasks: list[tuple[Prepared, Choice]] = []
    owners: list[int] = []
    for owner, (one, material) in enumerate(wanted):
        for choice in _choices(one, material, stock):
            tasks.append((one, choice))
            owners.append(owner)
    done = 0

    def told(index: int, outcome: Outcome) -> None:
        nonlocal done
        done += 1
        if on_done is not None:
            on_done(done, len(tasks))

    outcomes = compare_tasks(tasks, effort, executor=executor, on_done=told, cancelled=cancelled)
    if len(outcomes) < len(tasks):
        raise OrderStopped("the order was stopped before every choice was tried; nothing was kept")
    fitting = [
        _fitting([outcome for outcome, mine in zip(outcomes, owners, strict=True) if mine == owner])
        for owner in range(len(wanted))
    ]
    needs = [
        Need(one.job.name, material.id, tuple(_option(outcome) for outcome in options))
        for (one, material), options in zip(wanted, fitting, strict=True)
    ]
    mix = cheapest_mix(needs, _mix_sizes(sizes, stock), spare=spare)
    chosen = [options[index] for options, index in zip(fitting, mix.chosen, strict=True)]
    return _order(jobs, wanted, chosen, mix, sizes, stock, currency)


def _order(
    jobs: Sequence[Prepared],
    wanted: Sequence[tuple[Prepared, Material]],
    chosen: Sequence[Outcome],
    mix: Mix,
    sizes: Mapping[str, tuple[StockSheet, Material]],
    stock: OrderStock,
    currency: str,
) -> Order:
    users: dict[str, Counter[str]] = {}
    offcuts = []
    for (one, material), outcome in zip(wanted, chosen, strict=True):
        names = {sheet.id: sheet.name for sheet in outcome.choice.stock}
        for stock_id, count in outcome.sheets:
            number = offcut_of(stock_id)
            if number is None:
                users.setdefault(stock_id, Counter())[one.job.name] += count
            else:
                offcuts.append(OrderOffcut(number, names[stock_id], material, one.job.name))
    lines = tuple(
        _line(*sizes[stock_id], mix, stock, tuple(users.get(stock_id, Counter()).items()))
        for stock_id in sizes
        if mix.used.get(stock_id) or mix.spare.get(stock_id) or mix.bought.get(stock_id)
    )
    plans = tuple(
        _plan(one, [outcome for (owner, _), outcome in zip(wanted, chosen, strict=True) if owner is one])
        for one in jobs
    )
    return Order(
        currency=currency,
        lines=lines,
        totals=_totals(lines),
        offcuts=tuple(offcuts),
        plans=plans,
        choices=tuple(
            (one.job.name, material.name, outcome.choice.name)
            for (one, material), outcome in zip(wanted, chosen, strict=True)
        ),
        unplaced=tuple((plan.job.name, left) for plan in plans for left in plan.unplaced),
        lacks_spare=mix.lacks_spare,
        goods=goods_lines(
            [(one.job.name, one.strips) for one in jobs], stock.book, currency=currency, on_hand=stock.on_hand
        ),
    )


def _line(
    size: StockSheet, material: Material, mix: Mix, stock: OrderStock, jobs: tuple[tuple[str, int], ...]
) -> OrderLine:
    used, spare, bought = (counts.get(size.id, 0) for counts in (mix.used, mix.spare, mix.bought))
    offer = stock.book.sheets.get(size.id)
    return OrderLine(
        stock=size,
        material=material,
        used=used,
        spare=spare,
        from_hand=max(0, used + spare - bought),
        bought=bought,
        minimum=offer.minimum if offer else 1,
        supplier=offer.supplier if offer else "",
        cost=None if size.price is None else size.price * bought,
        weight_kg=weight(size.area, material.density, material.thickness) * bought,
        jobs=jobs,
    )


def _totals(lines: Sequence[OrderLine]) -> tuple[MaterialTotal, ...]:
    materials = list(dict.fromkeys(line.material for line in lines))
    totals = []
    for material in materials:
        mine = [line for line in lines if line.material == material]
        costs = [line.cost for line in mine if line.bought]
        totals.append(
            MaterialTotal(
                material=material,
                bought=sum(line.bought for line in mine),
                cost=None if None in costs else sum(cost for cost in costs if cost is not None),
                weight_kg=sum(line.weight_kg for line in mine),
            )
        )
    return tuple(totals)


def _plan(one: Prepared, chosen: Sequence[Outcome]) -> JobPlan:
    """The job's plan from the plans of its materials, on the stock they were chosen for."""
    records = [outcome.record for outcome in chosen if outcome.record is not None]
    offcuts = tuple(sheet for outcome in chosen for sheet in outcome.choice.stock if offcut_of(sheet.id) is not None)
    record = PlanRecord(
        sheets=tuple(sheet for record in records for sheet in record.sheets),
        unplaced=tuple(left for record in records for left in record.unplaced),
        summaries=tuple(summary for record in records for summary in record.summaries),
        seed=records[0].seed if records else 0,
        rounds=sum(record.rounds for record in records),
        seconds=sum(record.seconds for record in records),
    )
    return assemble(replace(one, job=replace(one.job, stock=(*one.job.stock, *offcuts))), record)


def _one_currency(jobs: Sequence[Prepared]) -> str:
    names = [one.job.name for one in jobs]
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        raise PlanningError(
            f"two jobs are called '{twice[0]}'; give each its own name, since sheets are marked with it"
        )
    currencies = {one.job.currency for one in jobs}
    if len(currencies) > 1:
        raise PlanningError(
            f"the jobs count in {' and '.join(sorted(currencies))}; make an order for each currency, or change a job's"
        )
    return currencies.pop() if currencies else "USD"


def _job_in_force(job: Job, book: ShopBook) -> Job:
    return replace(job, stock=tuple(in_force(size, book, job.currency) for size in job.stock))


def _sizes(jobs: Sequence[Prepared]) -> dict[str, tuple[StockSheet, Material]]:
    """Every size of the jobs by id, by material; the same id must mean the same sheet of the same material."""
    sizes: dict[str, tuple[StockSheet, Material]] = {}
    for one in jobs:
        materials = {material.id: material for material in one.job.materials}
        for size in one.job.stock:
            if offcut_of(size.id) is not None or not _parts_of(one, materials[size.material]):
                continue
            mine = (size, materials[size.material])
            first = sizes.setdefault(size.id, mine)
            if _bought_as(first) != _bought_as(mine):
                raise PlanningError(
                    f"job '{one.job.name}' and another have a stock '{size.id}' that is not the same sheet at the same "
                    "price; make them alike or give one another id"
                )
    return dict(sorted(sizes.items(), key=lambda item: (item[1][1].name, item[1][0].width * item[1][0].height)))


def _bought_as(one: tuple[StockSheet, Material]) -> tuple[object, ...]:
    size, material = one
    return (size.width, size.height, size.price, material.id, material.thickness, material.density)


def _parts_of(one: Prepared, material: Material) -> bool:
    return any(part.material == material.id for part in one.parts)


def _choices(one: Prepared, material: Material, stock: OrderStock) -> tuple[Choice, ...]:
    cutter = next(cutter for cutter in one.job.cutters if cutter.id == material.cutter)
    sizes = [size for size in one.job.stock if size.material == material.id and offcut_of(size.id) is None]
    offcuts = rack_sheets(stock.offcuts.get(one.job.name, ()), material)
    # Pairs of sizes are left to `compare`: all sizes together hold them, and several jobs are many choices as it is.
    return stock_choices(material, cutter, sizes, offcuts=offcuts, pairs=False)


def _fitting(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """Those that leave the fewest copies without a place: all of them place everything, where that can be."""
    planned = [outcome for outcome in outcomes if not outcome.fault]
    if not planned:
        raise PlanningError(outcomes[0].fault if outcomes else "a material has parts but no stock; add a sheet size")
    least = min(outcome.unplaced for outcome in planned)
    return [outcome for outcome in planned if outcome.unplaced == least]


def _option(outcome: Outcome) -> Option:
    numbers = {stock: offcut_of(stock) for stock, _ in outcome.sheets}
    return Option(
        name=outcome.choice.name,
        sheets=tuple((stock, count) for stock, count in outcome.sheets if numbers[stock] is None),
        offcuts=frozenset(number for number in numbers.values() if number is not None),
    )


def _mix_sizes(sizes: Mapping[str, tuple[StockSheet, Material]], stock: OrderStock) -> list[Size]:
    priced = {
        material.id: all(size.price is not None for size, other in sizes.values() if other.id == material.id)
        for _, material in sizes.values()
    }
    made = []
    for size, material in sizes.values():
        area = size.area
        offer: SheetOffer | None = stock.book.sheets.get(size.id)
        made.append(
            Size(
                stock=size.id,
                material=material.id,
                # Where a price is missing, area stands in for it: least cost then means least sheet area.
                price=size.price if priced[material.id] and size.price is not None else round(area / 100.0),
                area=area,
                on_hand=stock.on_hand.get(size.id, 0),
                minimum=offer.minimum if offer else 1,
                most=size.count,
            )
        )
    return made
