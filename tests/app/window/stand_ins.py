"""A small job with known shapes, and stand-ins for the planner, for tests of the window."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace

from app.artwork.drawing import Letter, Lettering, Source
from app.fabrication.part import CutPart, Drill, PartSeam, Role
from app.job.document import Job, Seam
from app.planning.host import Failed, Finished, Gained, Message, Progressed, RunState
from app.planning.job_plan import JobPlan, MaterialSummary, Offcut, PlacedPart, PlannedSheet, UnplacedPart
from app.planning.plan_job import PlanProgress
from app.planning.prepare import Prepared
from app.stock.book import KeepOut
from app.window.main_window import MainWindow
from app.window.session import Session
from app.window.settings import WindowSettings
from geometry.arcs import circle
from geometry.build import polygon, region
from geometry.contour import Region
from geometry.findings import Finding, Severity
from geometry.measure import region_area
from geometry.transform import transform_region, translation
from nesting.plan import Placement

RING = region(circle((200.0, 200.0), 200.0), [circle((200.0, 200.0), 100.0)])
"""The letter O: 400 mm across, with a counter of 200 mm."""
ELL = region(polygon([(0, 0), (240, 0), (240, 90), (90, 90), (90, 400), (0, 400)]), [])
"""The letter L: 240 by 400 mm."""

BACKER, FACE = "alu-0.125", "acrylic-white-3/16"


def letter(id_: str, name: str, artwork: str, shape: Region, x: float) -> Letter:
    moved = transform_region(shape, translation(x, 0.0))
    return Letter(id_, name, artwork, (moved,), Source("sign.svg"))


def made(job: Job, scale: float = 1.0) -> Prepared:
    """Letters O and L with a backer and a face each, without reading anything."""
    from geometry.transform import scaling

    ring, ell = transform_region(RING, scaling(scale)), transform_region(ELL, scaling(scale))
    width, height = 700.0 * scale, 400.0 * scale
    artwork = job.artwork[0].id
    letters = (letter("sign-1", "O", artwork, ring, 0.0), letter("sign-2", "L", artwork, ell, 460.0 * scale))
    findings = (
        Finding("small", Severity.NOTE, "the drawing states no unit; pixels were taken"),
        Finding(
            "thin", Severity.WARNING, "letter L: stroke 12 mm is thin", (500.0 * scale, 50.0 * scale), False, "sign-2"
        ),
    )
    lettering = Lettering(artwork, letters, width, height, None, scale, findings)
    parts = tuple(
        CutPart(
            id=f"{one.id}-{role.value}",
            role=role,
            letter=one.id,
            name=f"{one.name} {role.value}",
            material=material,
            quantity=2,
            region=shape,
            origin=(x, 0.0),
            drills=(Drill((20.0, 20.0), 6.0),) if role is Role.BACKER and one.name == "L" else (),
        )
        for one, shape, x in ((letters[0], ring, 0.0), (letters[1], ell, 460.0 * scale))
        for role, material in ((Role.BACKER, BACKER), (Role.FACE, FACE))
    )
    bad = Finding(
        "corner", Severity.ERROR, "part L face: corner the cutter cannot reach", (90.0, 90.0), False, "sign-2-face"
    )
    cut = Seam((120.0 * scale, 0.0), (120.0 * scale, 90.0 * scale))
    start, end = (580.0 * scale, 0.0), (580.0 * scale, 90.0 * scale)
    seam = PartSeam("sign-2", Role.FACE, cut, start, end, "butt", "crosses the foot", False)
    return Prepared(job, (lettering,), parts, (*findings, bad), (seam,))


def planned(prepared: Prepared, *, seed: int = 0, x: float = 0.0, unplaced: int = 0, is_whole: bool = True) -> JobPlan:
    """A plan with every ring and L of a material on one 48 x 96 sheet; `x` moves it, so that plans differ.

    The error among the findings goes into the plan only when it is not to be the whole job.
    """
    findings = tuple(one for one in prepared.findings if not is_whole or one.severity is not Severity.ERROR)
    job = prepared.job
    sheets, summaries = [], []
    for number, material_id in enumerate((BACKER, FACE), start=1):
        material = next(one for one in job.materials if one.id == material_id)
        stock = next(one for one in job.stock if one.material == material_id)
        stock = replace(stock, keep_outs=(KeepOut(0.0, 2000.0, 100.0, 200.0, "clamp"),))
        parts = [part for part in prepared.parts if part.material == material_id]
        spots = ((50.0, 50.0), (50.0, 500.0)), ((600.0, 50.0), (600.0, 500.0))
        placed = tuple(
            PlacedPart(part, Placement(part.id, copy, at[0] + x, at[1], 0.0))
            for part, places in zip(parts, spots, strict=True)
            for copy, at in enumerate(places)
        )
        area = sum(region_area(one.part.region) for one in placed)
        whole = stock.width * stock.height
        sheets.append(
            PlannedSheet(
                number,
                f"{number:02d}-{number}.dxf",
                material,
                next(c for c in job.cutters if c.id == material.cutter),
                stock,
                9.5,
                material.margin,
                placed,
                (Offcut(50.0, 1200.0, 1000.0, 700.0, True),),
            )
        )
        summaries.append(
            MaterialSummary(
                material_id,
                1,
                area,
                whole,
                7e5,
                area / whole,
                (area + 7e5) / whole,
                18800,
                20.0,
                9.0,
                1,
                "area of the parts",
            )
        )
    left = tuple(UnplacedPart("sign-2-face", copy, "no sheet has room for it") for copy in range(unplaced))
    return JobPlan(
        job, prepared.lettering, prepared.parts, tuple(sheets), left, tuple(summaries), findings, seed, 12, 1.5
    )


@dataclass
class FakePlanner:
    """Plans when told to by the test: `send` puts messages where `poll` finds them."""

    state: RunState = RunState.NOT_STARTED
    prepared: Prepared | None = None
    asked: dict[str, object] = field(default_factory=dict)
    waiting: list[Message] = field(default_factory=list)
    run: int = 0
    is_warm: bool = False
    is_closed: bool = False

    def warm(self) -> None:
        self.is_warm = True

    def start(self, prepared: Prepared, *, seconds: float, rounds: int | None = None, seed: int = 0) -> int:
        self.run += 1
        self.prepared, self.state = prepared, RunState.RUNNING
        self.asked = {"seconds": seconds, "seed": seed}
        return self.run

    def poll(self) -> list[Message]:
        sent, self.waiting = self.waiting, []
        for message in sent:
            if isinstance(message, Finished):
                self.state = RunState.CANCELLED if message.cancelled else RunState.FINISHED
            elif isinstance(message, Failed):
                self.state = RunState.FAILED
        return sent

    def pause(self) -> None:
        if self.state is RunState.RUNNING:
            self.state = RunState.PAUSED

    def go_on(self) -> None:
        if self.state is RunState.PAUSED:
            self.state = RunState.RUNNING

    def cancel(self) -> None:
        if self.state in (RunState.RUNNING, RunState.PAUSED):
            self.state = RunState.STOPPING

    def kill(self) -> None:
        self.state = RunState.CANCELLED

    def close(self) -> None:
        self.is_closed = True

    # For tests

    def gain(self, x: float = 0.0) -> JobPlan:
        plan = planned(self.prepared, x=x)
        self.waiting.append(Gained(self.run, plan))
        return plan

    def progress(self, fraction: float | None, stage: str = "aluminium: placing 3 of 8") -> None:
        self.waiting.append(Progressed(self.run, PlanProgress(fraction, stage, 0.4, 2, 0.31)))

    def finish(self, *, cancelled: bool = False, unplaced: int = 0, is_whole: bool = True) -> JobPlan:
        plan = planned(self.prepared, seed=int(self.asked["seed"]), unplaced=unplaced, is_whole=is_whole)
        self.waiting.append(Finished(self.run, plan, cancelled))
        return plan


@dataclass
class Desk:
    """A window with its stand-ins within reach."""

    window: MainWindow
    session: Session
    planner: FakePlanner
    settings: WindowSettings
    prepared_jobs: list[Job]
    gate: threading.Event


def open_job(desk: Desk, qtbot, job: Job) -> Desk:
    """Open a job and wait for its parts."""
    desk.session.document.open(job, None)
    qtbot.waitUntil(lambda: desk.session.preparation.prepared is not None)
    return desk


def make_plan(desk: Desk, qtbot, **how) -> JobPlan:
    """Have the stand-in plan the job, and wait until it is in hand."""
    desk.window.plan()
    plan = desk.planner.finish(**how)
    qtbot.waitUntil(lambda: desk.session.planning.plan is plan)
    return plan


def few_sizes(job: Job) -> Job:
    """The job with two sizes of either material."""
    few = [[size for size in job.stock if size.material == material][:2] for material in (BACKER, FACE)]
    return replace(job, stock=(*few[0], *few[1]))
