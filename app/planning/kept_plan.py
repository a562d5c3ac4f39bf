"""The kept plan of a job put together with its parts again: refereed, and its figures added up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import replace
from enum import StrEnum
from typing import Final

from app.job.document import DisplayUnits, Job
from app.job.kept import KeptPart, KeptPlan, KeptSheet, Key, shapes_of
from app.planning.figures import summarise
from app.planning.job_plan import JobPlan, Offcut, PlanFault, PlannedSheet, UnplacedPart
from app.planning.plan_job import PlanRecord, SheetRecord, assemble, offcuts_of
from app.planning.prepare import Prepared
from app.planning.problems import MaterialProblem, material_problems
from app.planning.recut import shape_of
from geometry.findings import Finding, Severity
from geometry.units import format_length
from nesting.clearance import PlacedShapes, Standing, Standings, Verdict
from nesting.plan import Layout, Placement, Plan, Unplaced
from nesting.referee import violations

BY_HAND: Final = "taken off its sheet by hand"


class KeptCode(StrEnum):
    """Findings about a kept plan that does not fit its job any more."""

    PART_CHANGED = "kept-part-changed"
    STOCK_GONE = "kept-stock-gone"


def kept_of(plan: JobPlan, *, is_by_hand: bool = False) -> KeptPlan:
    """The layouts of a plan, to be kept with its job."""
    shapes = {one.part.id: one.part for sheet in plan.sheets for one in sheet.placed}
    return KeptPlan(
        sheets=tuple(
            KeptSheet(
                sheet.stock.id, tuple(KeptPart(one.placement, one.is_locked) for one in sheet.placed), sheet.is_locked
            )
            for sheet in plan.sheets
        ),
        shapes=tuple((name, shape_of(part).as_text()) for name, part in shapes.items()),
        is_by_hand=is_by_hand,
    )


def sketch(prepared: Prepared, kept: KeptPlan, before: JobPlan) -> JobPlan:
    """A kept plan put together at once, to be shown until it is refereed: figures and faults are those of before.

    It may differ from `before` only in where copies lie.
    """
    stock = {sheet.id: sheet for sheet in prepared.job.stock}
    offcuts = {(one.stock.id, tuple(part.placement for part in one.placed)): one.offcuts for one in before.sheets}
    sheets = []
    for sheet in kept.sheets:
        placements = tuple(part.placement for part in sheet.parts)
        sheets.append(
            SheetRecord(
                material=stock[sheet.stock].material,
                stock=sheet.stock,
                placements=placements,
                offcuts=offcuts.get((sheet.stock, placements), ()),
                locked=frozenset(part.key for part in sheet.parts if part.is_locked),
                is_locked=sheet.is_locked,
            )
        )
    placed = {part.key for sheet in kept.sheets for part in sheet.parts}
    reasons = {(one.part, one.copy): one.reason for one in before.unplaced}
    record = PlanRecord(
        tuple(sheets),
        tuple(
            UnplacedPart(part.id, copy, reasons.get((part.id, copy), BY_HAND))
            for part in prepared.parts
            for copy in range(part.quantity)
            if (part.id, copy) not in placed
        ),
        before.summaries,
        before.seed,
        before.rounds,
        before.seconds,
        faults=before.faults,
    )
    return assemble(prepared, record)


class KeptPlans:
    """Kept plans of one prepared job.

    Fields
    ------
    prepared : Prepared
    problems : dict of MaterialProblem by material id
        What the referee goes by.
    shapes : dict of PlacedShapes by material id

    Raises
    ------
    JobError
        When it is made and a material of the job has no stock.
    """

    def __init__(self, prepared: Prepared) -> None:
        self.prepared = prepared
        self.problems = {one.material.id: one for one in material_problems(prepared)}
        self.shapes = {name: PlacedShapes(one.problem) for name, one in self.problems.items()}
        self._parts = {part.id: part for part in prepared.parts}
        self._stock = {sheet.id: sheet for sheet in prepared.job.stock}
        for part in prepared.parts:
            shape_of(part)  # reckoned here and not when a plan is kept, which must be quick

    def for_job(self, prepared: Prepared) -> KeptPlans:
        """The same for the job as it is now; made anew only where the problems are different ones."""
        if prepared.parts is not self.prepared.parts or _rules(prepared.job) != _rules(self.prepared.job):
            return KeptPlans(prepared)
        found = copy(self)
        found.prepared = prepared
        return found

    def plan(self, kept: KeptPlan, before: JobPlan | None = None) -> JobPlan:
        """The plan with its figures, what is left of each sheet, and everything the referee has against it.

        What of it does not fit the job any more is left out and told as a finding.

        Parameters
        ----------
        kept : KeptPlan
        before : JobPlan, optional
            The plan it was made from: reasons are taken over, and offcuts of sheets that are the same.
        """
        usable, findings = self.usable(kept)
        record = self.judged(
            [
                SheetRecord(
                    material=self._stock[sheet.stock].material,
                    stock=sheet.stock,
                    placements=tuple(part.placement for part in sheet.parts),
                    offcuts=(),
                    locked=frozenset(part.key for part in sheet.parts if part.is_locked),
                    is_locked=sheet.is_locked,
                )
                for sheet in usable.sheets
            ],
            self._left(usable, before),
            known=before.sheets if before is not None else (),
        )
        made = replace(
            record,
            seed=before.seed if before is not None else self.prepared.job.seed,
            rounds=before.rounds if before is not None else 0,
            seconds=before.seconds if before is not None else 0.0,
            findings=findings,
        )
        return assemble(self.prepared, made)

    def usable(self, kept: KeptPlan) -> tuple[KeptPlan, tuple[Finding, ...]]:
        """What of a kept plan still fits the job, and findings about the rest."""
        measured = shapes_of(kept)
        sheets: list[KeptSheet] = []
        changed: Counter[str] = Counter()
        gone: Counter[str] = Counter()
        for sheet in kept.sheets:
            stock = self._stock.get(sheet.stock)
            if stock is None:
                gone[sheet.stock] += len(sheet.parts)
                continue
            good = tuple(one for one in sheet.parts if self._is_same(one.placement, stock.material, measured))
            changed.update(one.placement.part for one in sheet.parts if one not in good)
            if good:
                sheets.append(replace(sheet, parts=good))
        findings = [
            Finding(
                KeptCode.STOCK_GONE,
                Severity.WARNING,
                f"the kept plan has a sheet of '{name}', which is not among the job's stock any more; "
                f"its {count} pieces are not placed",
                subject=name,
            )
            for name, count in gone.items()
        ]
        findings += [
            Finding(
                KeptCode.PART_CHANGED,
                Severity.WARNING,
                f"part {name}: {'another size or number' if name in self._parts else 'no such part in the job'} "
                f"since the plan was made; {count} of its places are not used",
                subject=name,
            )
            for name, count in changed.items()
        ]
        return replace(kept, sheets=tuple(sheets)), tuple(findings)

    def judged(
        self,
        sheets: Iterable[SheetRecord],
        unplaced: Sequence[UnplacedPart],
        *,
        known: Sequence[PlannedSheet] = (),
        with_offcuts: bool = True,
    ) -> PlanRecord:
        """Layouts in the job's order of materials, refereed and reckoned up.

        `known` are sheets whose offcuts need not be looked for again; sheets that bring their own offcuts keep them.
        """
        order = {name: at for at, name in enumerate(self.problems)}
        sheets = sorted(sheets, key=lambda sheet: order[sheet.material])
        kept_offcuts = {
            (one.stock, one.spacing, one.margin, tuple(part.placement for part in one.placed)): one.offcuts
            for one in known
        }
        made: list[SheetRecord] = []
        faults: list[PlanFault] = []
        summaries = []
        for name, one in self.problems.items():
            layouts = _layouts([sheet for sheet in sheets if sheet.material == name])
            own = []
            for sheet, layout in layouts:
                offcuts: tuple[Offcut, ...] | None = sheet.offcuts or kept_offcuts.get(
                    (self._stock[sheet.stock], one.problem.rules.spacing, one.material.margin, sheet.placements)
                )
                if offcuts is None:
                    offcuts = offcuts_of(one.problem, layout) if with_offcuts else ()
                own.append(replace(sheet, offcuts=offcuts))
            left = tuple(
                Unplaced(each.part, each.copy, each.reason) for each in unplaced if each.part in one.part_areas
            )
            plan = Plan(tuple(layout for _, layout in layouts), left, ())
            if violations(one.problem, plan):
                faults += self._faults(one, plan, first=len(made) + 1)
            summaries.append(summarise(one, plan, [sheet.offcuts for sheet in own], self.prepared.job.units))
            made += own
        return PlanRecord(
            tuple(made), tuple(unplaced), tuple(summaries), seed=0, rounds=0, seconds=0.0, faults=tuple(faults)
        )

    def _faults(self, one: MaterialProblem, plan: Plan, *, first: int) -> list[PlanFault]:
        """What keeps a material's plan from being cut, in the job's units and with the copies it is about."""
        found: list[PlanFault] = []
        known = {sheet.id for sheet in one.problem.sheets}
        shapes = self.shapes[one.material.id]
        for number, layout in enumerate(plan.layouts, start=first):
            if layout.sheet not in known:
                continue
            for at, stand in Standings(one.problem, layout.sheet, layout.placements, shapes).faults():
                placement = layout.placements[at]
                key = (placement.part, placement.copy)
                keys = (key,) if stand.other is None else (key, stand.other)
                said = in_words(key, stand, one, self.prepared.job.units)
                found.append(PlanFault(number, keys, said, stand.verdict.value))
        # The referee has the last word: what only he has found is told as he says it.
        rest = violations(one.problem, plan)
        if not found or any(not _is_about_distance(text) for text in rest):
            found += [PlanFault(0, (), text) for text in rest if not found or not _is_about_distance(text)]
        return found

    def _is_same(self, at: Placement, material: str, measured: Mapping[str, str]) -> bool:
        part = self._parts.get(at.part)
        if part is None or part.material != material or at.copy >= part.quantity:
            return False
        text = measured.get(at.part)
        return text is None or shape_of(part).matches(text)

    def _left(self, kept: KeptPlan, before: JobPlan | None) -> tuple[UnplacedPart, ...]:
        placed = {part.key for sheet in kept.sheets for part in sheet.parts}
        reasons: dict[Key, str] = {}
        if before is not None:
            reasons = {(one.part, one.copy): one.reason for one in before.unplaced}
            was_placed = {one.key for sheet in before.sheets for one in sheet.placed} - set(reasons)
            reasons |= dict.fromkeys(was_placed, BY_HAND)
        return tuple(
            UnplacedPart(part.id, copy, reasons.get((part.id, copy), "on no sheet of the kept plan"))
            for part in self.prepared.parts
            for copy in range(part.quantity)
            if (part.id, copy) not in placed
        )


def _rules(job: Job) -> object:
    """What of a job the problems depend on, beside its parts."""
    return job.stock, job.materials, job.cutters, job.may_nest_in_holes


def in_words(key: Key, stand: Standing, one: MaterialProblem, units: DisplayUnits) -> str:
    """Why a part may not stay where it is, in one sentence."""
    who = f"{key[0]} · {key[1] + 1}"
    other = f"{stand.other[0]} · {stand.other[1] + 1}" if stand.other is not None else ""
    match stand.verdict:
        case Verdict.OVERLAPS:
            return f"{who} overlaps {other}"
        case Verdict.CLOSE:
            needed = format_length(one.problem.rules.spacing, units)
            return f"{who} is {format_length(stand.gap, units)} from {other}; the spacing is {needed}"
        case Verdict.IN_HOLE:
            return f"{who} and {other}: one lies in a hole of the other, which this job does not allow"
        case Verdict.OUTSIDE if stand.what == "keep-out":
            return f"{who} lies in a keep-out"
        case Verdict.OUTSIDE if stand.gap > 0.0:
            needed = format_length(one.problem.rules.margin, units)
            return f"{who} is {format_length(stand.gap, units)} from the sheet's edge; the margin is {needed}"
        case Verdict.OUTSIDE:
            return f"{who} reaches beyond the sheet's edge"
        case _:
            return f"{who} is clear"


def _is_about_distance(text: str) -> bool:
    """Whether a sentence of the referee says what standings say too, in other words."""
    return any(part in text for part in ("overlap", "apart", "touch", "edge", "keep-out", "hole of"))


def _layouts(sheets: Sequence[SheetRecord]) -> list[tuple[SheetRecord, Layout]]:
    """Each sheet as a layout; sheets of one size are told apart by their number."""
    used: Counter[str] = Counter()
    found = []
    for sheet in sheets:
        found.append((sheet, Layout(sheet.stock, used[sheet.stock], sheet.placements)))
        used[sheet.stock] += 1
    return found
