"""First place: the artwork as read, and at what size it is made."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import Final

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QWidget

from app.artwork.drawing import Lettering
from app.errors import AppError
from app.fabrication.part import PartSeam
from app.job import edits
from app.job.document import Artwork, Scale, ScaleBy
from app.window.artwork_picture import artwork_picture
from app.window.facts import FactList, Section, button, words
from app.window.fields import Choice, LengthField, WholeNumber
from app.window.findings_list import summary
from app.window.letters_list import LettersList, letter_sizes
from app.window.picture import Thing
from app.window.place import Place, panel_label
from app.window.seam_lines import seams_in_words
from app.window.session import Session
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import count, sentence
from geometry.findings import Finding, Severity
from geometry.units import format_both, format_length

FILE_UNITS: Final = (
    ("as the file says", None),
    ("inches", "in"),
    ("feet", "ft"),
    ("millimetres", "mm"),
    ("centimetres", "cm"),
    ("metres", "m"),
    ("points", "pt"),
    ("pixels", "px"),
)


class ArtworkPlace(Place):
    """Letters at their true size, and the fields that set it.

    Signals
    -------
    artwork_wanted, words_wanted : more of it is asked for
    """

    artwork_wanted = Signal()
    words_wanted = Signal()

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__("Artwork", session, theme)
        self._artwork_id = ""
        self.artwork = Choice("Artwork shown in the fields")
        self.artwork.chosen.connect(self._choose_artwork)
        self.scale_by = Choice("What sets the size")
        self.scale_by.chosen.connect(self._choose_scale_by)
        self.length = LengthField("Size of the artwork")
        self.length.committed.connect(self._set_length)
        self.length.refused.connect(self.said)
        self.file_units = Choice("Unit of the file's numbers")
        self.file_units.setToolTip("What the numbers in the file mean, when the file does not say or is wrong")
        self.file_units.chosen.connect(self._set_file_units)
        self.sets = WholeNumber("Sets made of the whole artwork", 1, 999)
        self.sets.setToolTip("How many of the whole artwork are made")
        self.sets.valueChanged.connect(self._set_sets)
        self.facts = FactList()

        fields = QWidget()
        grid = QGridLayout(fields)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(7)
        grid.setColumnStretch(1, 1)
        self._artwork_label = panel_label("Artwork", self.artwork)
        self._file_units_label = panel_label("File's unit", self.file_units)
        rows = (
            (self._artwork_label, self.artwork),
            (panel_label("Size set by", self.scale_by), self.scale_by),
            (panel_label("Length", self.length), self.length),
            (self._file_units_label, self.file_units),
            (panel_label("Sets", self.sets), self.sets),
        )
        for row, (label, widget) in enumerate(rows):
            grid.addWidget(label, row, 0)
            grid.addWidget(widget, row, 1)
        self.source = words("", "muted")
        self.add = button("Add artwork…", tip="Add an SVG, DXF or PDF file to this job (Ctrl+Shift+A)")
        self.add.clicked.connect(self.artwork_wanted)
        self.add_words = button("Add words…", tip="Add words set in a font file to this job (Ctrl+Shift+W)")
        self.add_words.clicked.connect(self.words_wanted)
        more = QWidget()
        row = QHBoxLayout(more)
        row.setContentsMargins(0, 2, 0, 0)
        row.addWidget(self.add, 1)
        row.addWidget(self.add_words, 1)
        self.letters = LettersList()
        self.letters.chosen.connect(self._go_to_letter)
        self.view.selected.connect(self._selected_on_drawing)
        self.body.addWidget(Section("Size", self.source, fields, more))
        self.body.addWidget(Section("As made", self.facts))
        self.body.addWidget(self.letters)
        self.body.addWidget(self.selected)
        self.body.addWidget(self.findings, 1)
        session.preparation.changed.connect(self._prepared)
        session.preparation.busy_changed.connect(self.refresh)
        session.preparation.progressed.connect(self._show_reading)
        session.document.changed.connect(self.refresh)

    def standing(self) -> Standing:
        """How many letters there are and how high."""
        preparation = self.session.preparation
        if self.job is None:
            return Standing()
        if preparation.is_busy:
            return Standing(Mark.BUSY, "reading…")
        if preparation.error is not None:
            return Standing(Mark.FAULT, "could not be read")
        if preparation.prepared is None:
            return Standing()
        lettering = preparation.prepared.lettering
        letters = count(sum(len(one.letters) for one in lettering), "letter")
        tallest = max((one.height for one in lettering), default=0.0)
        text = f"{letters}, {format_length(tallest, self.job.units.value)} high"
        return Standing(worst(self._findings()), text)

    def refresh(self) -> None:
        """Fill the fields from the job."""
        job = self.job
        self.standing_changed.emit()
        if job is None:
            return
        if self.view.units is not job.units:
            self.show_units(job.units)
            self.draw_soon(keep_view=True)
        artwork = self._artwork()
        if artwork is None:
            return
        self.artwork.offer([(one.name, one.id) for one in job.artwork], artwork.id)
        for widget in (self.artwork, self._artwork_label):
            widget.setVisible(len(job.artwork) > 1)
        for widget in (self.file_units, self._file_units_label):
            widget.setVisible(artwork.file is not None)
        lettering = self._lettering()
        if artwork.text is not None:
            lines = artwork.text.words.replace("\n", " / ")
            self.source.setText(f"“{lines}” in {os.path.basename(artwork.text.font)}")
            self.source.setToolTip(artwork.text.font)
        else:
            self.source.setText(f"File {os.path.basename(artwork.file or '')}")
            self.source.setToolTip(artwork.file or "")
        # A known dimension needs two points of the file, so it is only offered where the job already has them.
        ways = [
            (way.value.capitalize(), way)
            for way in ScaleBy
            if way is not ScaleBy.KNOWN_DIMENSION or artwork.scale.by is way
        ]
        if (
            lettering is not None
            and lettering.capital_height is None
            and artwork.scale.by is not ScaleBy.CAPITAL_HEIGHT
        ):
            ways = [one for one in ways if one[1] is not ScaleBy.CAPITAL_HEIGHT]
        self.scale_by.offer(ways, artwork.scale.by)
        self.length.setEnabled(artwork.scale.by is not ScaleBy.AS_DRAWN)
        if not self.length.hasFocus() or not self.length.isModified():
            shown = (
                artwork.scale.length if artwork.scale.by is not ScaleBy.AS_DRAWN else self._measure(artwork.scale.by)
            )
            self.length.show_length(shown, job.units)
        self.file_units.offer(FILE_UNITS, artwork.units)
        self.sets.show_value(artwork.sets)
        self._show_facts(lettering)
        preparation = self.session.preparation
        prepared = preparation.prepared
        self.letters.show_letters(letter_sizes(prepared.lettering) if prepared is not None else (), job.units)
        self.findings.show_waiting(waiting_words(preparation.is_busy, prepared is not None))
        if preparation.is_busy:
            self.show_next("Next: Parts", "Reading the artwork…", is_ready=False)
            if preparation.prepared is None:
                self.show_empty("Reading the artwork…")
        elif preparation.prepared is None:
            self.show_next("Next: Parts", "The artwork could not be read; the drawing board says why.", is_ready=False)
            error = preparation.error
            why = sentence(str(error)) if isinstance(error, AppError) else "A fault of the program was met."
            self.show_empty(f"There is no drawing to show.\n\n{why}")
        else:
            self.show_empty("")
            self.show_next("Next: Parts", "Check the size, then look at the parts.")

    def _findings(self) -> tuple[Finding, ...]:
        prepared = self.session.preparation.prepared
        return tuple(finding for one in prepared.lettering for finding in one.findings) if prepared else ()

    def draw(self) -> None:
        """The letters with their measures."""
        prepared, job = self.session.preparation.prepared, self.job
        if prepared is None or job is None:
            self.view.show_picture(None)
            return
        shown = self.view.picture
        picture = artwork_picture(prepared, job, self.theme, self.session.paths, self.board_px)
        is_same_size = shown is not None and shown.bounds == picture.bounds
        self.view.show_picture(picture, keep_view=self.keeps_view and is_same_size)

    def _prepared(self) -> None:
        self.findings.show_findings(self._findings())
        self.draw_soon(keep_view=True)
        self.refresh()

    def _show_facts(self, lettering: Lettering | None) -> None:
        if lettering is None:
            self.facts.show_facts(())
            return
        facts = [
            ("Letters", str(len(lettering.letters))),
            ("Width", format_both(lettering.width)),
            ("Height", format_both(lettering.height)),
        ]
        if lettering.capital_height is not None:
            facts.append(("Capitals", format_both(lettering.capital_height)))
        facts.append(("Scale", f"× {lettering.scale:.6g} of the drawing"))
        seams = self._seams(lettering)
        if seams:
            facts.append(("Seams", seams_in_words(seams)))
        self.facts.show_facts(facts)

    def _seams(self, lettering: Lettering) -> tuple[PartSeam, ...]:
        prepared = self.session.preparation.prepared
        letters = {letter.id for letter in lettering.letters}
        return tuple(seam for seam in prepared.seams if seam.letter in letters) if prepared is not None else ()

    def show_artwork(self, artwork_id: str) -> None:
        """Show this artwork in the fields."""
        self._choose_artwork(artwork_id)

    def _go_to_letter(self, letter_id: str) -> None:
        thing = self.view.picture.thing(letter_id) if self.view.picture is not None else None
        if thing is not None:
            self.view.select(thing)
            self.view.show_place(thing.area())

    def _selected_on_drawing(self, thing: Thing | None) -> None:
        self.letters.show_selected(thing.key if thing is not None else "")

    def _show_reading(self, _share: float, text: str) -> None:
        self.hint.setText(text[:1].upper() + text[1:] + "…")

    def _artwork(self) -> Artwork | None:
        job = self.job
        if job is None or not job.artwork:
            return None
        return next((one for one in job.artwork if one.id == self._artwork_id), job.artwork[0])

    def _lettering(self) -> Lettering | None:
        prepared, artwork = self.session.preparation.prepared, self._artwork()
        if prepared is None or artwork is None:
            return None
        return next((one for one in prepared.lettering if one.artwork == artwork.id), None)

    def _measure(self, by: ScaleBy) -> float | None:
        lettering = self._lettering()
        if lettering is None:
            return None
        return {
            ScaleBy.AS_DRAWN: lettering.height,
            ScaleBy.CAPITAL_HEIGHT: lettering.capital_height,
            ScaleBy.OVERALL_WIDTH: lettering.width,
            ScaleBy.OVERALL_HEIGHT: lettering.height,
        }.get(by)

    def _choose_artwork(self, artwork_id: str) -> None:
        self._artwork_id = artwork_id
        self.refresh()

    def _choose_scale_by(self, by: ScaleBy) -> None:
        artwork = self._artwork()
        if artwork is None or artwork.scale.by is by:
            return
        # The size stays what it is; only the measure that holds it changes.
        length = None if by is ScaleBy.AS_DRAWN else self._measure(by)
        if by is not ScaleBy.AS_DRAWN and length is None:
            self.refresh()
            return
        self.edit(f"set size by {by.value}", lambda job: edits.set_scale(job, artwork.id, Scale(by, length)))

    def _set_length(self, length: float) -> None:
        artwork = self._artwork()
        job = self.job
        if artwork is None or job is None or artwork.scale.by is ScaleBy.AS_DRAWN:
            return
        by = artwork.scale.by
        text = f"change {by.value} to {format_length(length, job.units.value)}"
        self.edit(text, lambda job: edits.set_scale(job, artwork.id, replace(artwork.scale, length=length)))

    def _set_file_units(self, units: str | None) -> None:
        artwork = self._artwork()
        if artwork is not None:
            self.edit("change the file's unit", lambda job: edits.set_artwork_units(job, artwork.id, units))

    def _set_sets(self, sets: int) -> None:
        artwork = self._artwork()
        if artwork is not None:
            self.edit("change sets", lambda job: edits.set_sets(job, artwork.id, sets), merge=self.sets.gesture)


def waiting_words(is_busy: bool, is_read: bool) -> str:
    """Why there is nothing to report yet; empty when all is known."""
    if is_busy:
        return "Reading…"
    return "" if is_read else "Nothing is read yet."


def worst(findings: tuple[Finding, ...]) -> Mark:
    """Mark of a place with these findings."""
    if any(one.severity is Severity.ERROR for one in findings):
        return Mark.FAULT
    if any(one.severity is Severity.WARNING for one in findings):
        return Mark.LOOK
    return Mark.DONE


def findings_words(findings: tuple[Finding, ...]) -> str:
    """How many findings of what weight, notes left out."""
    return summary([one for one in findings if one.severity is not Severity.NOTE])
