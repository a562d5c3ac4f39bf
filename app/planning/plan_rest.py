"""Planning around what is locked: locked sheets leave the problem, locked parts keep others off their places."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Final

from app.errors import JobError
from app.job.kept import KeptPlan, KeptSheet
from app.planning.job_plan import UnplacedPart, total_yield
from app.planning.kept_plan import KeptPlans
from app.planning.plan_job import AS_THE_JOB_SAYS, PlanProgress, PlanRecord, PlanRun, SheetRecord, plan_records
from app.planning.prepare import BegunSheet, Prepared
from app.planning.recut import only
from nesting.plan import Placement

_BEGUN: Final = "begun:"
"""Begins the ids under which sheets with locked parts are stock of the rest; no stock of a job is called so."""


def plan_rest(prepared: Prepared, run: PlanRun = AS_THE_JOB_SAYS) -> PlanRecord:
    """Plan everything of a job that is not locked in its kept plan; the whole plan comes back, locked things included.

    Without locks this is `plan_records`, whose errors it shares. Sheets of the kept plan come first
    within their material. A locked part that does not fit the job any more is planned like the others and told as a
    finding.
    """
    kept = prepared.job.plan
    if kept is None or not kept.has_locks:
        return plan_records(prepared, run)
    locked = _Locked(prepared, kept)
    last: list[PlanRecord] = []

    def gained(record: PlanRecord) -> None:
        last[:] = [locked.joined(record, with_offcuts=False)]
        if run.on_gain is not None:
            run.on_gain(last[0])

    def progressed(at: PlanProgress) -> None:
        if run.on_progress is not None:
            sheets = len(last[0].sheets) if last else len(locked.sheets)
            run.on_progress(
                replace(at, sheets=sheets, net_yield=total_yield(last[0].summaries) if last else at.net_yield)
            )

    if not locked.rest.parts:
        raise JobError("every part is locked, so nothing is left to plan; unlock what may be planned anew")
    rest = plan_records(locked.rest, replace(run, on_gain=gained, on_progress=progressed))
    return locked.joined(rest, with_offcuts=True)


class _Locked:
    """What is locked, the job without it, and how the two are joined again."""

    def __init__(self, prepared: Prepared, kept: KeptPlan) -> None:
        self._plans = KeptPlans(prepared)
        usable, self._findings = self._plans.usable(kept)
        stock = {sheet.id: sheet for sheet in prepared.job.stock}
        self.sheets: list[tuple[str, KeptSheet]] = []  # under which id they are stock of the rest; "" for locked ones
        begun: list[BegunSheet] = []
        parts = {part.id: part for part in prepared.parts}
        for sheet in usable.sheets:
            held = (
                sheet if sheet.is_locked else replace(sheet, parts=tuple(one for one in sheet.parts if one.is_locked))
            )
            if not held.parts:
                continue
            name = "" if sheet.is_locked else f"{_BEGUN}{len(begun) + 1}"
            self.sheets.append((name, held))
            if name:
                placed = tuple((parts[one.placement.part], one.placement) for one in held.parts)
                begun.append(BegunSheet(name, stock[sheet.stock], placed))
        taken = {part.key for _, sheet in self.sheets for part in sheet.parts}
        self._free = {
            part.id: [copy for copy in range(part.quantity) if (part.id, copy) not in taken] for part in prepared.parts
        }
        used = Counter(sheet.stock for _, sheet in self.sheets)
        left = tuple(
            sheet if sheet.count is None else replace(sheet, count=max(0, sheet.count - used[sheet.id]))
            for sheet in prepared.job.stock
        )
        rest = only(prepared, {name: len(copies) for name, copies in self._free.items()})
        self.rest = replace(rest, job=replace(rest.job, stock=left), begun=tuple(begun))

    def joined(self, record: PlanRecord, *, with_offcuts: bool) -> PlanRecord:
        """A plan of the rest together with what is locked."""
        added = {sheet.stock: sheet for sheet in record.sheets if sheet.stock.startswith(_BEGUN)}
        sheets = []
        for name, held in self.sheets:
            more = added.get(name)
            placements = tuple(part.placement for part in held.parts)
            sheets.append(
                SheetRecord(
                    material=self._material(held),
                    stock=held.stock,
                    placements=placements if more is None else placements + self._numbered(more.placements),
                    offcuts=() if more is None else more.offcuts,
                    locked=frozenset(part.key for part in held.parts if part.is_locked),
                    is_locked=held.is_locked,
                )
            )
        sheets += [
            replace(sheet, placements=self._numbered(sheet.placements))
            for sheet in record.sheets
            if not sheet.stock.startswith(_BEGUN)
        ]
        unplaced = [UnplacedPart(one.part, self._free[one.part][one.copy], one.reason) for one in record.unplaced]
        whole = self._plans.judged(sheets, unplaced, with_offcuts=with_offcuts)
        return replace(
            whole,
            seed=record.seed,
            rounds=record.rounds,
            seconds=record.seconds,
            findings=(*self._findings, *record.findings),
        )

    def _material(self, held: KeptSheet) -> str:
        return next(sheet.material for sheet in self._plans.prepared.job.stock if sheet.id == held.stock)

    def _numbered(self, placements: tuple[Placement, ...]) -> tuple[Placement, ...]:
        """Copies of the rest under the numbers they have in the whole job."""
        return tuple(replace(one, copy=self._free[one.part][one.copy]) for one in placements)
