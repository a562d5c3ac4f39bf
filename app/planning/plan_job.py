"""Plan a job: nest each material, referee the result, add up the figures.

What leaves the planner comes in two forms. A `PlanRecord` is small and plain (ids and numbers), fit for a pipe; a
`JobPlan` holds the parts themselves. `assemble` makes the second from the first.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from app.errors import JobError
from app.job.document import DisplayUnits
from app.job.kept import Key
from app.planning.figures import placed_area, summarise, used_area
from app.planning.job_plan import (
    JobPlan,
    MaterialSummary,
    Offcut,
    PlacedPart,
    PlanFault,
    PlannedSheet,
    UnplacedPart,
)
from app.planning.prepare import Prepared
from app.planning.problems import MaterialProblem, material_problems
from app.planning.reasons import reason_in_words
from app.planning.refereed import Refereed
from app.stock.book import spacing_of
from geometry.findings import Finding
from nesting.plan import Layout, Placement, Plan
from nesting.problem import Problem
from nesting.solve import AfterRounds, AfterSeconds, Progress, Stop

OFFCUT_MIN_SIDES: Final = ((304.8, 304.8), (152.4, 914.4))
"""An offcut is kept when it holds one of these, mm: 12 x 12 in, or 6 x 36 in. Common practice."""


@dataclass(frozen=True, slots=True)
class PlanProgress:
    """A reading of a run over all materials.

    Fields
    ------
    fraction : float or None
        Share of the allotted work done, 0 to 1.
    stage : str
        For a person: "preparing", "aluminium 0.125 in: placing 12 of 40".
    elapsed_s : float
    sheets : int
        Sheets of the best plan so far.
    net_yield : float
        Net part area / sheet area of the best plan so far; 0 when there is none.
    """

    fraction: float | None
    stage: str
    elapsed_s: float
    sheets: int
    net_yield: float


@dataclass(frozen=True, slots=True)
class PlanRun:
    """How a job is to be planned: what may be spent on it, and who follows it.

    Fields
    ------
    seconds : float or None
        Time for the whole job, shared out by the area of the parts; the job's own when None. Every part that fits is
        placed first, whatever the limit.
    rounds : int or None
        Rounds per material instead of time: the budget that makes runs repeat exactly.
    seed : int or None
        The job's own when None.
    on_gain, on_progress
        As in `nesting.solve.solve`, over all materials. Records handed to `on_gain` have no offcuts yet: those are
        looked for once, at the end.
    cancelled
        Asked often; once true, nothing is improved any further. First layouts are still finished, so that what comes
        back has a place for every part that fits: a plan with half of the parts on it is of no use to anyone.
    clock
        Seconds; one that stands still while the run is held does not count that time.
    """

    seconds: float | None = None
    rounds: int | None = None
    seed: int | None = None
    on_gain: Callable[[PlanRecord], None] | None = None
    on_progress: Callable[[PlanProgress], None] | None = None
    cancelled: Callable[[], bool] = lambda: False
    clock: Callable[[], float] = time.perf_counter


AS_THE_JOB_SAYS: Final = PlanRun()


@dataclass(frozen=True, slots=True)
class SheetRecord:
    """One sheet in plain form."""

    material: str
    stock: str
    placements: tuple[Placement, ...]
    offcuts: tuple[Offcut, ...]
    locked: frozenset[Key] = frozenset()
    is_locked: bool = False


@dataclass(frozen=True, slots=True)
class PlanRecord:
    """A plan of a job in plain form: ids and numbers only."""

    sheets: tuple[SheetRecord, ...]
    unplaced: tuple[UnplacedPart, ...]
    summaries: tuple[MaterialSummary, ...]
    seed: int
    rounds: int
    seconds: float
    findings: tuple[Finding, ...] = ()
    faults: tuple[PlanFault, ...] = ()


def plan_job(prepared: Prepared, run: PlanRun = AS_THE_JOB_SAYS) -> JobPlan:
    """The job planned and passed by the referee; what is locked in its kept plan stays where it is."""
    from app.planning.plan_rest import plan_rest  # builds on this module

    return assemble(prepared, plan_rest(prepared, run))


def plan_records(prepared: Prepared, run: PlanRun = AS_THE_JOB_SAYS) -> PlanRecord:
    """Nest every material and return the best plan found, in plain form.

    Raises
    ------
    JobError
        When a material has no stock or the limits make no sense.
    PlanningError
        When the referee rejects what the engine made: a fault of this program, and nothing may be cut from it.
    """
    from nesting.solve import solve

    seconds = prepared.job.seconds if run.seconds is None else run.seconds
    seed = prepared.job.seed if run.seed is None else run.seed
    rounds, clock = run.rounds, run.clock
    check_limits(seconds, rounds, seed)
    began = clock()
    problems = material_problems(prepared)
    shares = _shares(problems)
    plans: dict[str, Plan] = {}
    findings: list[Finding] = []
    rounds_run = 0
    done = 0.0

    def record(*, with_offcuts: bool) -> PlanRecord:
        made = [
            _material_record(one, plans, prepared.job.units, with_offcuts=with_offcuts)
            for one in problems
            if one.material.id in plans
        ]
        return PlanRecord(
            sheets=tuple(sheet for sheets, _, _ in made for sheet in sheets),
            unplaced=tuple(left for _, unplaced, _ in made for left in unplaced),
            summaries=tuple(summary for _, _, summary in made),
            seed=seed,
            rounds=rounds_run,
            seconds=clock() - began,
            findings=tuple(findings),
        )

    for index, (one, share) in enumerate(zip(problems, shares, strict=True)):
        material = one.material.id
        # What an earlier material left of its time goes to those still to come.
        time_left = max(0.0, seconds - (clock() - began))
        allotted = time_left * share / sum(shares[index:])
        stop = _StopOrCancel(AfterSeconds(allotted) if rounds is None else AfterRounds(rounds), run.cancelled)

        def show(plan: Plan, material: str = material) -> None:
            plans[material] = plan
            if run.on_gain is not None:
                run.on_gain(record(with_offcuts=False))

        refereed = Refereed(one, show)

        def progressed(
            at: Progress,
            name: str = one.material.name,
            share: float = share,
            done: float = done,
            allotted: float = allotted,
            refereed: Refereed = refereed,
        ) -> None:
            refereed.look()
            if run.on_progress is None:
                return
            part_done = _fraction(at, allotted if rounds is None else None, rounds)
            run.on_progress(
                PlanProgress(
                    fraction=min(1.0, done + share * part_done),
                    stage=f"{name}: {at.stage}",
                    elapsed_s=clock() - began,
                    sheets=sum(len(plan.layouts) for plan in plans.values()),
                    net_yield=_net_yield(problems, plans),
                )
            )

        result = solve(one.problem, stop, seed=seed, on_gain=refereed.gained, on_progress=progressed, clock=clock)
        plans[material] = refereed.last(result.plan)
        findings += refereed.findings
        rounds_run += result.progress.rounds
        done += share
    return record(with_offcuts=True)


@dataclass(frozen=True, slots=True)
class _StopOrCancel:
    """Ends the improving at a limit or on request; the engine asks it only once a first full layout is there."""

    limit: Stop
    cancelled: Callable[[], bool]

    def reached(self, at: Progress) -> bool:
        """Whether to stop here."""
        return self.cancelled() or self.limit.reached(at)


def assemble(prepared: Prepared, record: PlanRecord) -> JobPlan:
    """The plan with its parts, materials and stock looked up; cheap enough for a user interface's thread."""
    job = prepared.job
    parts = {part.id: part for part in prepared.parts}
    materials = {material.id: material for material in job.materials}
    cutters = {cutter.id: cutter for cutter in job.cutters}
    stock = {sheet.id: sheet for sheet in job.stock}
    sheets = []
    for number, sheet in enumerate(record.sheets, start=1):
        material = materials[sheet.material]
        cutter = cutters[material.cutter]
        sheets.append(
            PlannedSheet(
                number=number,
                file=f"{number:02d}-{plain_name(material.id)}.dxf",
                material=material,
                cutter=cutter,
                stock=stock[sheet.stock],
                spacing=spacing_of(material, cutter),
                margin=material.margin,
                placed=tuple(
                    PlacedPart(parts[one.part], one, (one.part, one.copy) in sheet.locked) for one in sheet.placements
                ),
                offcuts=sheet.offcuts,
                is_locked=sheet.is_locked,
            )
        )
    return JobPlan(
        job=job,
        lettering=prepared.lettering,
        parts=prepared.parts,
        sheets=tuple(sheets),
        unplaced=record.unplaced,
        summaries=record.summaries,
        findings=prepared.findings + record.findings,
        seed=record.seed,
        rounds=record.rounds,
        seconds=record.seconds,
        seams=prepared.seams,
        strips=prepared.strips,
        faults=record.faults,
    )


def plain_name(text: str) -> str:
    """Text as a safe piece of a file name: lower-case letters, digits and single hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "material"


def check_limits(seconds: float | None, rounds: int | None, seed: int | None) -> None:
    """Refuse limits that make no sense; None means that the job's own is used.

    Raises
    ------
    JobError
    """
    if seconds is not None and not 0.0 <= seconds < float("inf"):
        raise JobError(f"planning time of {seconds:g} seconds makes no sense; give a number from 0 up")
    if rounds is not None and rounds < 0:
        raise JobError(f"{rounds} rounds make no sense; give a whole number from 0 up")
    if seed is not None and seed < 0:
        raise JobError(f"seed {seed} is below 0; give a whole number from 0 up")


def _shares(problems: tuple[MaterialProblem, ...]) -> tuple[float, ...]:
    """How the time is divided: by number of copies, since that is what a search has to sort out."""
    copies = [sum(part.quantity for part in one.parts) for one in problems]
    total = sum(copies)
    return tuple(count / total for count in copies)


def _fraction(at: Progress, seconds: float | None, rounds: int | None) -> float:
    if seconds is not None:
        return 1.0 if seconds == 0.0 else min(1.0, at.elapsed_s / seconds)
    return 1.0 if not rounds else min(1.0, at.rounds / rounds)


def _net_yield(problems: tuple[MaterialProblem, ...], plans: dict[str, Plan]) -> float:
    part_area = sheet_area = 0.0
    for one in problems:
        plan = plans.get(one.material.id)
        if plan is None:
            continue
        part_area += placed_area(one, plan)
        sheet_area += used_area(one, plan)
    return part_area / sheet_area if sheet_area else 0.0


def _material_record(
    one: MaterialProblem, plans: dict[str, Plan], units: DisplayUnits, *, with_offcuts: bool
) -> tuple[list[SheetRecord], list[UnplacedPart], MaterialSummary]:
    plan = plans[one.material.id]
    sheets = [
        SheetRecord(
            material=one.material.id,
            stock=layout.sheet,
            placements=layout.placements,
            offcuts=offcuts_of(one.problem, layout) if with_offcuts else (),
        )
        for layout in plan.layouts
    ]
    unplaced = [UnplacedPart(left.part, left.copy, reason_in_words(left, one, units)) for left in plan.unplaced]
    return sheets, unplaced, summarise(one, plan, [sheet.offcuts for sheet in sheets], units)


def offcuts_of(problem: Problem, layout: Layout) -> tuple[Offcut, ...]:
    """What is left of a sheet and worth keeping."""
    from nesting.offcuts import offcuts

    return tuple(Offcut(*found) for found in offcuts(problem, layout, min_sides=OFFCUT_MIN_SIDES))
