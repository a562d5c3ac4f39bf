"""The job planned on each choice of stock, side by side: a chart, a table, the sheets of each, and what to take."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QFrame, QScrollArea

from app.errors import AppError
from app.job.document import Job
from app.window.compare_chart import CompareChart
from app.window.compare_options import CompareOptions
from app.window.compare_rows import COLUMNS, choice_bars, choice_facts, choice_rows
from app.window.data_table import DataTable
from app.window.facts import FactList, ProgressSection, Section, button, set_look, words
from app.window.fields import Choice
from app.window.place import Place, shared
from app.window.preparation import what_matters
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.sheet_picture import sheets_picture
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import count

if TYPE_CHECKING:
    from app.output.compare_tables import Compared
    from app.planning.choices import Choice as StockChoice
    from app.planning.compare import Effort, Outcome
    from app.planning.job_plan import JobPlan
    from app.planning.prepare import Prepared

FILES: Final = "PDF (*.pdf);;Table (*.csv);;Picture (*.svg);;For other programs (*.json)"
CHART_LEAST_PX: Final = 330


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A comparison begun: of what, with what effort."""

    prepared: Prepared
    choices: tuple[StockChoice, ...]
    effort: Effort

    @property
    def job(self) -> Job:
        """The job as it was."""
        return self.prepared.job


class ComparePlace(Place):
    """One button plans the job on every choice; one click adopts what is best."""

    only_when_seen = True

    def __init__(self, session: Session, theme: Theme, settings: WindowSettings) -> None:
        super().__init__("Compare", session, theme)
        self._settings = settings
        self._run: Run | None = None
        self._outcomes: dict[str, Outcome] = {}
        self._found: tuple[Compared, ...] = ()
        self._material = ""
        self._was_stopped = False
        self._adopted: tuple[StockChoice, ...] = ()
        self._plans: dict[str, JobPlan] = {}
        self._lay_out(theme)

        self.material = Choice("Material shown")
        self.material.chosen.connect(self.show_material)
        self.material_section = Section("Material", self.material)
        self.advice = words("")
        self.advice_section = Section("Recommended", self.advice)
        self.facts = FactList()
        self.adopt = button("Adopt this choice", tip="Make these sizes the job's own for this material, and plan anew")
        self.adopt.clicked.connect(self.adopt_chosen)
        self.chosen_section = Section("Chosen", self.facts, self.adopt)
        self.progress = ProgressSection("Comparing", "Progress of the comparison")
        self.options = CompareOptions(session)
        self.options.changed.connect(self.refresh)
        self.options.refused.connect(self.said)
        self.again = button("Compare again", tip="Plan every choice once more")
        self.again.clicked.connect(self.compare)
        self.save = button("Save comparison…", tip="As PDF, table (CSV), picture (SVG) or JSON")
        self.save.clicked.connect(self.ask_where_to_save)
        for widget in (self.progress, self.material_section, self.advice_section, self.chosen_section, self.options):
            self.body.addWidget(widget)
        self.body.addWidget(self.again)
        self.body.addWidget(self.save)
        self.body.addStretch(1)

        trial = session.comparing
        trial.found.connect(self._take_one)
        trial.done.connect(self._take_all)
        trial.failed.connect(lambda _error: self._end())
        trial.changed.connect(self.refresh)
        session.preparation.changed.connect(self.refresh)
        session.document.opened.connect(self._other_job)
        session.document.changed.connect(self.refresh)
        session.rack.changed.connect(self.refresh)

    @property
    def found(self) -> tuple[Compared, ...]:
        """What was compared, by material; of a comparison under way what there is so far."""
        return self._found

    @property
    def chosen(self) -> Outcome | None:
        """The outcome of the row one is at."""
        return self._outcomes.get(self.table.key)

    @property
    def is_stale(self) -> bool:
        """Whether what is shown was compared for the job as it was before."""
        job = self.job
        return self._run is not None and job is not None and not _same_parts(self._run.job, job)

    @property
    def is_adopted(self) -> bool:
        """Whether the job is as it was made by adopting; no longer after an undo."""
        from app.planning.choices import adopt

        job = self.job
        if job is None or not self._adopted:
            return False
        again = [adopt(job, choice) for choice in self._adopted]
        return all(set(one.stock) == set(job.stock) and one.materials == job.materials for one in again)

    def standing(self) -> Standing:
        """How the comparison stands."""
        if self.session.comparing.is_running and self._run is not None:
            return Standing(Mark.BUSY, f"comparing, {len(self._outcomes)} of {len(self._run.choices)}")
        return Standing()

    def show_job(self, job: Job) -> None:
        """Show the choices, what is recommended, and the next step."""
        running, run = self.session.comparing.is_running, self._run
        self.split.setVisible(run is not None)
        self.blank.setVisible(run is None)
        self.options.show_job(job, self.session.preparation.prepared, is_running=running)
        self.again.setVisible(run is not None and not running)
        self.again.setEnabled(self._is_ready())
        self.progress.setVisible(running)
        if running and run is not None:
            done, of = len(self._outcomes), len(run.choices)
            each = f"{run.effort.seconds:g} s each, on all cores at once"
            self.progress.show_share(done / of, f"{done} of {count(of, 'choice')} planned; {each}")
        self._show_found(job, running)
        self._show_next_step(running)

    def go_on(self) -> None:
        """Compare, cancel, adopt or go on, whatever the button says."""
        if self.session.comparing.is_running:
            self.session.comparing.stop()
        elif self._can_adopt():
            self.adopt_recommended()
        elif self.is_adopted and not self.is_stale:
            self.next_chosen.emit()
        else:
            self.compare()

    def compare(self) -> None:
        """Plan the job on every choice, in processes of their own."""
        prepared, job = self.session.preparation.prepared, self.job
        if not self._is_ready() or prepared is None or job is None:
            return
        try:
            choices = self.options.choices(prepared, job)
        except AppError as error:
            self.said.emit(str(error))
            return
        self._run = run = Run(replace(prepared, job=job), choices, self.options.effort(job))
        self._outcomes, self._plans, self._was_stopped, self._adopted = {}, {}, False, ()
        materials = [one.material.id for one in choices]
        self._material = self._material if self._material in materials else materials[0]
        self._sum_up()
        door = self.session.services.compare
        self.session.comparing.start(lambda found, stopped: door(run.prepared, choices, run.effort, found, stopped))
        self.draw_soon()

    def adopt_recommended(self) -> None:
        """Take what is recommended for every material."""
        self._adopt([one.outcomes[one.advice.index].choice for one in self._found if one.advice.index is not None])

    def adopt_chosen(self) -> None:
        """Take the choice of the row one is at."""
        if self.adopt.isEnabled() and self.chosen is not None:
            self._adopt([self.chosen.choice])

    def show_material(self, material: str) -> None:
        """Show the choices of one material."""
        self._material = material
        self._go_to_best()

    def draw(self) -> None:
        """The sheets of the choice one is at."""
        from app.planning.choices import variant
        from app.planning.plan_job import assemble

        job, run, outcome, key = self.job, self._run, self.chosen, self.table.key
        if job is None or run is None or outcome is None or outcome.record is None or not outcome.record.sheets:
            self.view.show_picture(None)
            self.show_empty("Planning…" if self.session.comparing.is_running else "Nothing is placed by this choice.")
            return
        self.show_empty("")
        if key not in self._plans:
            self._plans[key] = assemble(variant(run.prepared, outcome.choice), outcome.record)
        sheets = self._plans[key].sheets
        self.view.show_picture(sheets_picture(sheets, job, self.theme, self.session.paths, self.board_px))

    def ask_where_to_save(self) -> None:
        """Save the comparison in a file that is asked for."""
        job = self.job
        if job is None or not self._found:
            return
        start = os.path.join(self._settings.folder("output") or job.folder, f"{job.name} - stock compared.pdf")
        path, kind = QFileDialog.getSaveFileName(self, "Save the comparison", start, FILES)
        if path:
            self.save_as(path if os.path.splitext(path)[1] else path + kind[kind.rindex(".") : -1])

    def save_as(self, path: str) -> None:
        """Save the comparison as the ending of the file's name says."""
        from app.output.compare_files import write_comparison

        if self._run is None:
            return
        try:
            write_comparison(self._run.job, self._found, self._run.effort, path, when=datetime.now())
        except AppError as error:
            self.said.emit(str(error))
            return
        self._settings.remember_folder("output", os.path.dirname(path))

    # Showing

    def _lay_out(self, theme: Theme) -> None:
        self.chart = CompareChart(theme)
        self.chart.chosen.connect(lambda index: self.table.choose(list(self._choices())[index]))
        scroll = QScrollArea()
        scroll.setWidget(self.chart)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setMinimumWidth(CHART_LEAST_PX)
        self.table = DataTable("Choices of stock", COLUMNS, theme)
        self.table.setMinimumHeight(120)
        self.table.chosen.connect(self._choose)
        self.table.opened.connect(lambda _key: self.adopt_chosen())
        upper = shared(Qt.Orientation.Horizontal, (scroll, 480), (self.drawing, 440))
        self.split = shared(Qt.Orientation.Vertical, (upper, 440), (self.table, 330))
        self.blank = words(
            "Nothing is compared yet.\n\nCompare plans this job on each of its sheet sizes alone, on pairs of sizes, "
            "on all together, and with the rack if you wish, each for the same time, and says which to take.",
            "muted",
        )
        self.blank.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.blank.setFixedWidth(460)
        self.board.addWidget(self.split, 1)
        self.board.addWidget(self.blank, 1, Qt.AlignmentFlag.AlignCenter)

    def _show_found(self, job: Job, running: bool) -> None:
        materials = [(one.material.name, one.material.id) for one in self._found]
        self.material.offer(materials, self._material)
        self.material_section.setVisible(len(materials) > 1)
        found = self._shown()
        has_advice = found is not None and not running
        self.advice_section.setVisible(has_advice)
        if found is not None and has_advice:
            short = " Stopped early: only the choices planned by then are compared." if self._was_stopped else ""
            self.advice.setText(found.advice.why + short)
            can_take = found.advice.index is not None
            set_look(self.advice_section.heading, "good" if can_take else "bad")
            self.advice_section.heading.setText("Recommended" if can_take else "None to take")
        self.save.setVisible(bool(self._found) and not running)
        choices = self._choices()
        self.table.fill(choice_rows(job, choices, self._outcomes, found, is_running=running))
        if not self.table.key and found is not None:
            self._go_to_best()
        bars = choice_bars(job, choices, self._outcomes, found, is_running=running)
        self.chart.show_bars(bars, list(choices).index(self.table.key) if self.table.key in choices else -1)
        self._show_chosen(job)

    def _show_chosen(self, job: Job) -> None:
        outcome = self.chosen
        self.chosen_section.setVisible(outcome is not None)
        if outcome is not None:
            self.facts.show_facts(choice_facts(job, outcome))
            self.adopt.setEnabled(outcome.is_whole and not self.session.comparing.is_running and not self.is_stale)

    def _show_next_step(self, running: bool) -> None:
        if running:
            stopping = self.session.comparing.is_stopping
            hint = "Waiting for the plans under way." if stopping else "What is planned by then is kept."
            self.show_next("Cancel, keep what is done", hint, is_ready=not stopping)
        elif self._can_adopt():
            number = sum(one.advice.index is not None for one in self._found)
            of_all = f"For all {number} materials: changes" if number > 1 else "Changes"
            self.show_next("Adopt what is recommended", f"{of_all} the job's sizes and plans anew; can be undone.")
        elif self.is_adopted and not self.is_stale:
            self.show_next("Next: Sheets", "Adopted; the job is planned on it.")
        else:
            hint = "Plans the job on each size alone, on mixes, and on all together."
            if self.is_stale:
                hint = "The job has changed since it was compared."
            if self.session.preparation.is_busy:
                hint = "Reading the artwork…"
            self.show_next("Compare anew" if self.is_stale else "Compare", hint, is_ready=self._is_ready())
        set_look(self.next, "" if running else "primary")

    def _choose(self, key: str) -> None:
        choices = list(self._choices())
        self.chart.show_bars(self.chart.bars, choices.index(key) if key in choices else -1)
        if self.job is not None:
            self._show_chosen(self.job)
        self.draw_soon()

    def _go_to_best(self) -> None:
        """Show the material's choices, at the one that is recommended."""
        found, keys, job = self._shown(), list(self._choices()), self.job
        if job is None or found is None or not keys:
            return
        running = self.session.comparing.is_running
        self.table.fill(choice_rows(job, self._choices(), self._outcomes, found, is_running=running))
        done = [key for key in keys if key in self._outcomes]
        best = 0 if running or found.advice.index is None else found.advice.index
        self.table.choose(done[best])
        self.refresh()

    # What there is

    def _choices(self) -> dict[str, StockChoice]:
        """Choices of the material shown, by their keys."""
        choices = self._run.choices if self._run is not None else ()
        return {str(index): one for index, one in enumerate(choices) if one.material.id == self._material}

    def _shown(self) -> Compared | None:
        return next((one for one in self._found if one.material.id == self._material), None)

    def _is_ready(self) -> bool:
        return self.session.preparation.is_ready and not self.session.comparing.is_running

    def _can_adopt(self) -> bool:
        has_advice = any(one.advice.index is not None for one in self._found)
        return has_advice and not self.is_adopted and not self.is_stale and not self.session.comparing.is_running

    # What comes in

    def _take_one(self, index: int, outcome: Outcome) -> None:
        self._outcomes[str(index)] = outcome
        self._sum_up()
        self.refresh()
        if self.table.key == str(index):
            self.draw_soon()

    def _take_all(self, outcomes: Sequence[Outcome]) -> None:
        self._was_stopped = self._run is not None and len(outcomes) < len(self._run.choices)
        self._end()

    def _end(self) -> None:
        if not self._outcomes:
            self._run = None  # nothing came of it: as if it had not been begun
        self._sum_up()
        self._go_to_best()
        self.refresh()

    def _sum_up(self) -> None:
        from app.output.compare_tables import compared

        ordered = [self._outcomes[key] for key in sorted(self._outcomes, key=int)]
        self._found = compared(self._run.job, ordered) if self._run is not None else ()

    def _adopt(self, choices: Sequence[StockChoice]) -> None:
        from app.planning.choices import adopt

        def adopted(job: Job) -> Job:
            for choice in choices:
                job = adopt(job, choice)
            return job

        name = choices[0].name if len(choices) == 1 else f"what is recommended for {len(choices)} materials"
        self._adopted = tuple(choices)
        self.session.use_rack(any(choice.uses_rack for choice in choices))
        self.edit(f"adopt {name}", adopted)
        self.session.plan_when_ready()
        self.refresh()

    def _other_job(self) -> None:
        self._run, self._outcomes, self._found, self._plans = None, {}, (), {}
        self._material, self._adopted = "", ()
        self.refresh()


def _same_parts(one: Job, other: Job) -> bool:
    """Whether two jobs differ at most in what a comparison itself varies: stock, webs, margins and cutters."""

    def bare(job: Job) -> Job:
        materials = tuple(replace(material, web=0.0, margin=0.0, cutter="") for material in job.materials)
        plain = replace(what_matters(job), units=one.units, folder="", plan=None)
        return replace(plain, stock=(), materials=materials, cutters=())

    return bare(one) == bare(other)
