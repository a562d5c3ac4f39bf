"""What a comparison is asked to try: which sizes, the rack, another spacing, margin or cutter, and for how long."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QSignalBlocker, Signal

from app.errors import AppError
from app.job.document import Job
from app.stock.book import Cutter
from app.window.facts import Section, words
from app.window.fields import CheckBox, Choice, LengthField, Seconds
from app.window.forms import field_grid
from app.window.session import Session
from app.window.wording import count, sentence

if TYPE_CHECKING:
    from app.planning.choices import Choice as StockChoice
    from app.planning.compare import Effort
    from app.planning.prepare import Prepared

USUAL_SECONDS: Final = 3.0
"""For each choice; a comparison asks which stock is better, not how far a plan can be driven."""
OWN, BOOK = "own", "book"


class CompareOptions(Section):
    """The fields.

    Signals
    -------
    changed : something else is asked for now
    refused : str
        Why a length is not taken.
    """

    changed = Signal()
    refused = Signal(str)

    def __init__(self, session: Session) -> None:
        self.session = session
        super().__init__("What is compared")
        self.sizes = Choice("Sizes to compare")
        self.sizes.setToolTip("Each size alone, pairs of them, and all together")
        self.spacing = LengthField("Another spacing to try")
        self.margin = LengthField("Another margin to try", may_be_least=True)
        self.cutter = Choice("Another cutter to try")
        self.cutter.setToolTip("Tried on all sizes together, beside the job's own cutter")
        self.seconds = Seconds("Time for each choice")
        self.seconds.setToolTip("Every choice gets the same time, seconds; a first full plan is made whatever it is")
        self.seconds.show_value(USUAL_SECONDS)
        self.rack = CheckBox()
        self.rack.setAccessibleName("With the offcuts of the rack too")
        self.rack.setToolTip("Plan each choice once more with the offcuts this job may use, which cost nothing")
        self.estimate = words("", "muted")
        self._lengths: dict[LengthField, float] = {}
        for field, what in ((self.spacing, "spacing"), (self.margin, "margin")):
            field.setPlaceholderText("as it is")
            field.setToolTip(f"Tried on all sizes together, beside the job's own {what}.")
            field.refused.connect(self.refused)
            field.committed.connect(lambda length, field=field: self._keep_length(field, length))
            field.textEdited.connect(lambda text, field=field: self._clear_length(field, text))
        fields = field_grid(
            ("Sizes", self.sizes),
            ("Try spacing", self.spacing),
            ("Try margin", self.margin),
            ("Try cutter", self.cutter),
            ("Time each", self.seconds),
        )
        self.box.addWidget(fields)
        self.box.addWidget(self.rack)
        self.box.addWidget(self.estimate)
        for signal in (self.sizes.chosen, self.cutter.chosen, self.seconds.valueChanged, self.rack.toggled):
            signal.connect(lambda _value: self.changed.emit())

    def show_job(self, job: Job, prepared: Prepared | None, *, is_running: bool) -> None:
        """Offer what this job can be compared by."""
        self.sizes.offer((("this job's sizes", OWN), ("all of the stock book", BOOK)), self.sizes.currentData() or OWN)
        cutters = self._cutters(job)
        names = [(cutter.name, cutter.id) for cutter in cutters.values()]
        self.cutter.offer([("as it is", None), *names], self.cutter.currentData())
        pieces = self._pieces(job)
        self.rack.setText(f"And each again with the rack ({pieces})")
        self.rack.setEnabled(bool(pieces) and not is_running)
        if not pieces:
            with QSignalBlocker(self.rack):
                self.rack.setChecked(False)
        for widget in (self.sizes, self.spacing, self.margin, self.cutter, self.seconds):
            widget.setEnabled(not is_running)
        for field in (self.spacing, self.margin):
            if not field.isModified():
                field.show_length(self._lengths.get(field), job.units)
        self.estimate.setText("" if is_running or prepared is None else self._in_words(prepared, job))

    def choices(self, prepared: Prepared, job: Job) -> tuple[StockChoice, ...]:
        """What is asked for.

        Raises
        ------
        AppError
            When it cannot be compared.
        """
        from app.planning.job_choices import job_choices
        from app.stock.shop_book import shop_book

        cutter = self.cutter.currentData()
        return job_choices(
            replace(prepared, job=job),
            shop_book(),
            whole_book=self.sizes.currentData() == BOOK,
            pieces=self._free(job) if self.rack.isChecked() else (),
            spacings=self._length(self.spacing),
            margins=self._length(self.margin),
            cutters=() if cutter is None else (self._cutters(job)[cutter],),
        )

    def effort(self, job: Job) -> Effort:
        """What each choice is given."""
        from app.planning.compare import Effort

        return Effort(self.seconds.value(), seed=job.seed)

    def _in_words(self, prepared: Prepared, job: Job) -> str:
        """How many choices are asked for, and about how long that will take here."""
        try:
            choices = len(self.choices(prepared, job))
        except AppError as error:
            return sentence(str(error))
        cores = min(os.cpu_count() or 1, choices)
        seconds = self.seconds.value() * -(-choices // cores)
        return f"{count(choices, 'choice')}, at least {seconds:.0f} s on {count(cores, 'core')}."

    def _free(self, job: Job) -> tuple:
        return self.session.rack.read(lambda rack: rack.free_for(job.name), ())

    def _pieces(self, job: Job) -> int:
        """How many pieces of the rack this job may use."""
        from app.planning.rack_stock import rack_sheets

        free = self._free(job)
        return sum(len(rack_sheets(free, material)) for material in job.materials)

    def _cutters(self, job: Job) -> Mapping[str, Cutter]:
        from app.planning.job_choices import known_cutters
        from app.stock.shop_book import shop_book

        try:
            return known_cutters(job, shop_book())
        except AppError as error:
            self.refused.emit(str(error))
            return {cutter.id: cutter for cutter in job.cutters}

    def _length(self, field: LengthField) -> tuple[float, ...]:
        return (self._lengths[field],) if field in self._lengths else ()

    def _keep_length(self, field: LengthField, length: float) -> None:
        self._lengths[field] = length
        self.changed.emit()

    def _clear_length(self, field: LengthField, text: str) -> None:
        if not text.strip() and field in self._lengths:
            del self._lengths[field]
            field.setModified(False)
            self.changed.emit()
