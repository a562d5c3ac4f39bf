"""A job planned: sheets with their parts, what is left over, what did not fit, and how good it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.artwork.drawing import Lettering
from app.fabrication.part import CutPart, PartSeam, Strip
from app.job.document import Job
from app.job.kept import Key
from app.stock.book import Cutter, Material, StockSheet
from geometry.findings import Finding, Severity
from nesting.plan import Placement


@dataclass(frozen=True, slots=True, eq=False)
class PlacedPart:
    """One copy of a part on a sheet; a locked one stays where it is when the rest is planned."""

    part: CutPart
    placement: Placement
    is_locked: bool = False

    @property
    def key(self) -> Key:
        """Which copy lies there."""
        return self.placement.part, self.placement.copy


@dataclass(frozen=True, slots=True)
class Offcut:
    """A rectangle left over and worth keeping: lower left corner and size, mm, margin and spacing already taken off.

    `is_strip` says that it runs the full width or full length of the sheet, so that one straight cut frees it.
    """

    x: float
    y: float
    width: float
    height: float
    is_strip: bool


@dataclass(frozen=True, slots=True, eq=False)
class PlannedSheet:
    """One physical sheet and what is cut from it.

    Fields
    ------
    number : int
        1-based over the whole job; the file is `file`.
    file : str
        "01-aluminium-3-2-mm.dxf": number and a plain form of the material id.
    material, cutter, stock : the stock book's entries
    spacing, margin : float, mm
    placed : tuple of PlacedPart
    offcuts : tuple of Offcut
    is_locked : bool
        Nothing is done to it when the rest is planned.
    """

    number: int
    file: str
    material: Material
    cutter: Cutter
    stock: StockSheet
    spacing: float
    margin: float
    placed: tuple[PlacedPart, ...]
    offcuts: tuple[Offcut, ...]
    is_locked: bool = False


@dataclass(frozen=True, slots=True)
class UnplacedPart:
    """A copy that is on no sheet, and why."""

    part: str
    copy: int
    reason: str


@dataclass(frozen=True, slots=True)
class PlanFault:
    """Why a plan cannot be cut as it stands.

    Fields
    ------
    sheet : int
        Number of the sheet; 0 when it is about the whole plan.
    parts : tuple of (part id, copy)
        The copies it is about.
    message : str
        One sentence.
    kind : str
        A word of `nesting.clearance.Verdict`; empty when it is not about distances.
    """

    sheet: int
    parts: tuple[tuple[str, int], ...]
    message: str
    kind: str = ""


@dataclass(frozen=True, slots=True)
class MaterialSummary:
    """Figures of one material.

    Fields
    ------
    material : str
    sheet_count : int
    part_area, sheet_area, offcut_area : float, mm²
        Net part area (holes removed), area of the sheets used, area of the offcuts kept.
    net_yield : float
        part_area / sheet_area.
    credited_yield : float
        (part_area + offcut_area) / sheet_area.
    cost : int or None
        Minor currency units; None when a price is unknown.
    weight_kg, scrap_kg : float
        Weight of the sheets used; of what is neither part nor offcut.
    least_sheets : int
        No plan can use fewer sheets than this.
    bound_reason : str
        Where `least_sheets` comes from, in words.
    """

    material: str
    sheet_count: int
    part_area: float
    sheet_area: float
    offcut_area: float
    net_yield: float
    credited_yield: float
    cost: int | None
    weight_kg: float
    scrap_kg: float
    least_sheets: int
    bound_reason: str


@dataclass(frozen=True, slots=True, eq=False)
class JobPlan:
    """The whole job, planned and checked by the referee.

    `faults` is what the referee found: always empty as the planner leaves it, and until it is empty again after
    changes by hand nothing is written.
    """

    job: Job
    lettering: tuple[Lettering, ...]
    parts: tuple[CutPart, ...]
    sheets: tuple[PlannedSheet, ...]
    unplaced: tuple[UnplacedPart, ...]
    summaries: tuple[MaterialSummary, ...]
    findings: tuple[Finding, ...]
    seed: int
    rounds: int
    seconds: float
    seams: tuple[PartSeam, ...] = ()
    strips: tuple[Strip, ...] = ()
    faults: tuple[PlanFault, ...] = ()

    @property
    def not_done(self) -> tuple[Finding, ...]:
        """What was asked for and not made or not read: the findings that are errors."""
        return tuple(finding for finding in self.findings if finding.severity is Severity.ERROR)

    @property
    def is_complete(self) -> bool:
        """Whether every part the job asks for was made and has a place where it can be cut."""
        return not self.unplaced and not self.not_done and not self.faults


def total_yield(summaries: Sequence[MaterialSummary]) -> float:
    """Net part area / sheet area, all materials together; 0 where nothing is cut."""
    sheet_area = sum(one.sheet_area for one in summaries)
    return sum(one.part_area for one in summaries) / sheet_area if sheet_area else 0.0
