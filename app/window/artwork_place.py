"""First place: the artwork as read, and at what size it is made."""

from __future__ import annotations

import os
from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QWidget

from app.artwork.drawing import Letter, Lettering
from app.errors import AppError, UnitWanted
from app.fabrication.part import PartSeam
from app.job import edits
from app.job.document import Artwork, DisplayUnits, Job, Scale, ScaleBy
from app.planning.prepare import Prepared
from app.window.artwork_bars import UNIT_NAMES, DimensionBar, UnitQuestion, centre_over
from app.window.artwork_picture import artwork_picture
from app.window.build_choice import BuildChoice, letters_made, whom
from app.window.build_dialog import BuildDialog
from app.window.dimension_hand import DimensionHand, Span
from app.window.facts import FactList, Section, button, words
from app.window.fields import Choice, LengthField, WholeNumber
from app.window.findings_list import summary
from app.window.forms import panel_label
from app.window.letters_list import LetterBuild, LettersList, letter_sizes
from app.window.picture import Thing
from app.window.place import Place
from app.window.reading_choices import ReadingChoices
from app.window.seam_lines import seams_in_words
from app.window.session import Session
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import count, sentence
from geometry.findings import Finding, Severity
from geometry.units import MM_PER, format_both, format_length


class ArtworkPlace(Place):
    """Letters at their true size, and the fields that set it.

    Signals
    -------
    artwork_wanted, words_wanted : more of it is asked for
    change_wanted : Artwork
        Its words are to be changed.
    """

    artwork_wanted = Signal()
    words_wanted = Signal()
    change_wanted = Signal(object)

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__("Artwork", session, theme, has_findings=True)
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
        self.measure = button(
            "Two points…", tip="Set the size by two clicks on the drawing and their true distance (S)"
        )
        self.measure.setAccessibleName("Set the size by two points")
        self.measure.clicked.connect(self.begin_dimension)
        self.sets = WholeNumber("Sets made of the whole artwork", 1, 999)
        self.sets.setToolTip("How many of the whole artwork are made")
        self.sets.valueChanged.connect(self._set_sets)
        self.facts = FactList()

        self._fields = fields = QWidget()
        grid = QGridLayout(fields)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(7)
        grid.setColumnStretch(1, 1)
        self._artwork_label = panel_label("Artwork", self.artwork)
        self._file_units_label = panel_label("File's unit", self.file_units)
        rows = (
            (self._artwork_label, (self.artwork,)),
            (panel_label("Size set by", self.scale_by), (self.scale_by,)),
            (panel_label("Length", self.length), (self.length, self.measure)),
            (self._file_units_label, (self.file_units,)),
            (panel_label("Sets", self.sets), (self.sets,)),
        )
        for row, (label, widgets) in enumerate(rows):
            grid.addWidget(label, row, 0)
            for column, widget in enumerate(widgets, start=1):
                grid.addWidget(widget, row, column, 1, 3 - len(widgets))
        self.source = words("", "muted")
        self.change = button("Change words…", "plain", tip="Other words, another font or other spacing")
        self.change.clicked.connect(lambda: self.change_wanted.emit(self._artwork()))
        self.remove = button("Remove", "plain", tip="Take this artwork out of the job")
        self.remove.clicked.connect(self._remove)
        self._deeds = deeds = QWidget()
        line = QHBoxLayout(deeds)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(self.change)
        line.addStretch(1)
        line.addWidget(self.remove)
        self.reading = ReadingChoices()
        self.reading.edited.connect(lambda text, edit, merge: self.edit(text, edit, merge=merge))
        self.reading.refused.connect(self.said)
        self.build = BuildChoice()
        self.build.chosen.connect(self._set_build)
        self.build.settings_wanted.connect(self.show_build)
        self.add = button("Add artwork…", tip="Add an SVG, DXF or PDF file to this job (Ctrl+Shift+A)")
        self.add.clicked.connect(self.artwork_wanted)
        self.add_words = button("Add words…", tip="Add words set in a font file to this job (Ctrl+Shift+W)")
        self.add_words.clicked.connect(self.words_wanted)
        more = QWidget()
        row = QHBoxLayout(more)
        row.setContentsMargins(0, 2, 0, 0)
        row.addWidget(self.add, 1)
        row.addWidget(self.add_words, 1)
        self.letters = LettersList(theme)
        self.letters.chosen.connect(self._chosen_in_list)
        self.view.selected.connect(self._selected_on_drawing)
        self.dimension = DimensionBar()
        self.dimension.measured.connect(self._set_dimension)
        self.dimension.refused.connect(self.said)
        self.dimension.ended.connect(self._end_dimension)
        self.board.insertWidget(0, self.dimension)
        self.question = UnitQuestion()
        self.question.chosen.connect(self._answer_unit)
        self.question.height_given.connect(self._answer_height)
        self.question.refused.connect(self.said)
        centre_over(self.view, self.question)
        self._size_section = Section("Artwork", self.source, deeds, fields, self.reading, more)
        self._made_section = Section("As made", self.facts)
        self._build_section = Section("Build", self.build)
        for widget in (self._size_section, self._build_section, self.letters, self._made_section):
            self.body.addWidget(widget)
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

    def show_job(self, job: Job) -> None:
        """Fill the fields from the job."""
        artwork = self._artwork()
        for widget in (self._fields, self._deeds, self.reading, self._build_section, self._made_section):
            widget.setVisible(artwork is not None)
        if artwork is None:
            self._show_none()
            return
        self.artwork.offer([(one.name, one.id) for one in job.artwork], artwork.id)
        for widget in (self.artwork, self._artwork_label):
            widget.setVisible(len(job.artwork) > 1)
        for widget in (self.file_units, self._file_units_label):
            widget.setVisible(artwork.file is not None)
        self.change.setVisible(artwork.text is not None)
        lettering = self._lettering()
        self.reading.show_artwork(artwork, lettering.file if lettering is not None else None, job.units)
        self._show_builds()
        if artwork.text is not None:
            lines = artwork.text.words.replace("\n", " / ")
            self.source.setText(f"“{lines}” in {os.path.basename(artwork.text.font)}")
            self.source.setToolTip(artwork.text.font)
        else:
            self.source.setText(f"File {os.path.basename(artwork.file or '')}")
            self.source.setToolTip(artwork.file or "")
        # A known dimension begins with two clicks on the drawing, so it is only offered where the job already has one.
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
        self.file_units.offer(self._unit_entries(lettering), artwork.units)
        self.sets.show_value(artwork.sets)
        self._show_facts(lettering)
        preparation = self.session.preparation
        prepared = preparation.prepared
        sizes = letter_sizes(prepared.lettering) if prepared is not None else ()
        self.letters.show_letters(sizes, job.units, builds_by_letter(job, prepared))
        self.findings.show_waiting(waiting_words(preparation.is_busy, prepared is not None))
        self.question.hide()
        if preparation.is_busy:
            self.show_next("Next: Parts", "Reading the artwork…", is_ready=False)
            if preparation.prepared is None:
                self.show_empty("Reading the artwork…")
        elif isinstance(preparation.error, UnitWanted):
            self._ask_unit(preparation.error)
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
        self._end_dimension()  # its corners were those of the letters as they were
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

    def begin_dimension(self) -> None:
        """Have two points picked on the drawing."""
        prepared, job, picture = self.session.preparation.prepared, self.job, self.view.picture
        if prepared is None or job is None or picture is None:
            return
        hand = DimensionHand(self.theme, prepared.lettering, picture.frames, job.units.value, self)
        hand.picked.connect(lambda span: self.dimension.show_span(span, job.units))
        hand.ended.connect(self._end_dimension)
        self.view.take_up(hand)
        self.dimension.begin()
        self.view.setFocus()

    def show_build(self) -> None:
        """Open the settings of the build shown."""
        job, artwork = self.job, self._artwork()
        build = next((one for one in job.builds if one.id == self.build.shown), None) if job is not None else None
        prepared = self.session.preparation.prepared
        if job is None or artwork is None or build is None:
            return
        letters = [letter for one in prepared.lettering for letter in one.letters] if prepared is not None else []
        chosen = self._chosen_letters()
        for_whom = whom(chosen)[len("For ") :]
        dialog = BuildDialog(job, build, letters_made(job, build.id, letters), for_whom, self)
        is_taken = dialog.exec() == BuildDialog.DialogCode.Accepted
        answer = dialog.answer if is_taken else None
        dialog.deleteLater()
        if answer is None:
            return
        if answer.is_new:
            self.edit(
                f"make {answer.build.name}",
                lambda job: self._built(edits.add_build(job, answer.build), answer.build.id),
            )
        else:
            self.edit(f"change {answer.build.name}", lambda job: edits.change_build(job, answer.build))

    def _chosen_letters(self) -> list[Letter]:
        """Letters of the artwork shown that are chosen in the list or on the drawing."""
        lettering, chosen = self._lettering(), set(self.letters.letters)
        return [letter for letter in lettering.letters if letter.id in chosen] if lettering is not None else []

    def _built(self, job: Job, build: str) -> Job:
        """The job with the letters chosen, or the whole artwork, made by a build."""
        artwork = self._artwork()
        if artwork is None:
            return job
        letters = [letter.id for letter in self._chosen_letters()]
        if letters:
            return edits.set_letter_builds(job, artwork.id, letters, build)
        every = [letter for letter, _build in artwork.letter_builds]
        return edits.set_build(edits.set_letter_builds(job, artwork.id, every, artwork.build), artwork.id, build)

    def _set_build(self, build: str) -> None:
        job = self.job
        name = next((one.name for one in job.builds if one.id == build), build) if job is not None else build
        self.edit(f"make letters as {name}", lambda job: self._built(job, build))

    def _show_builds(self) -> None:
        job, artwork = self.job, self._artwork()
        if job is not None and artwork is not None:
            self.build.show_builds(job, artwork, self._chosen_letters())

    def _remove(self) -> None:
        artwork = self._artwork()
        if artwork is not None:
            self.edit(f"remove {artwork.name}", lambda job: edits.remove_artwork(job, artwork.id))

    def _show_none(self) -> None:
        self.source.setText("There is no artwork in this job.")
        self.letters.show_letters((), DisplayUnits.INCHES, {})
        self.show_empty("There is no artwork in this job.\n\nDrop drawings or fonts here, or add them on the right.")
        self.show_next("Next: Parts", "Add artwork first.", is_ready=False)

    def _ask_unit(self, question: UnitWanted) -> None:
        job = self.job
        asked = next((one for one in job.artwork if one.id == question.artwork), None) if job is not None else None
        self.show_empty("")
        self.show_next("Next: Parts", "Say first in what unit the file is drawn.", is_ready=False)
        if job is not None and asked is not None:
            self.question.ask(question, asked.name, job.units)

    def _answer_unit(self, artwork: str, unit: str) -> None:
        self.edit(f"read the file in {UNIT_NAMES[unit]}", lambda job: edits.set_artwork_units(job, artwork, unit))

    def _answer_height(self, artwork: str, height: float) -> None:
        self.edit("set the height", lambda job: edits.set_scale(job, artwork, Scale(ScaleBy.OVERALL_HEIGHT, height)))

    def _end_dimension(self) -> None:
        hand = self.view.hand
        if isinstance(hand, DimensionHand):
            self.view.take_up(None)
            hand.deleteLater()
        self.dimension.hide()

    def _set_dimension(self, span: Span, length: float) -> None:
        job, prepared = self.job, self.session.preparation.prepared
        if job is None or prepared is None:
            return
        artwork = next(one for one in job.artwork if one.id == span.artwork)
        lettering = next(one for one in prepared.lettering if one.artwork == span.artwork)
        scale = scale_of_span(artwork, lettering, span, length)
        self._end_dimension()
        self._artwork_id = artwork.id
        self.edit(
            f"set a distance to {format_length(length, job.units.value)}",
            lambda job: edits.set_scale(job, artwork.id, scale),
        )

    def _unit_entries(self, lettering: Lettering | None) -> list[tuple[str, str | None]]:
        """Units to choose from, each with the size that the file as drawn has in it."""
        entries: list[tuple[str, str | None]] = [("as the file says", None)]
        facts = lettering.file if lettering is not None else None
        for unit, name in UNIT_NAMES.items():
            size = ""
            if lettering is not None and facts is not None and self.job is not None:
                wide, high = (one / facts.number * MM_PER[unit] for one in (lettering.width, lettering.height))
                size = f": {format_length(wide, self.job.units.value)} × {format_length(high, self.job.units.value)}"
            entries.append((name + size, unit))
        return entries

    def _chosen_in_list(self, letter_id: str) -> None:
        picture = self.view.picture
        if picture is None:
            return
        letters = self.letters.letters
        things = [thing for key in letters if (thing := picture.thing(key)) is not None]
        is_new = [thing.key for thing in things] != [thing.key for thing in self.view.selections]
        self.view.select_all(things)
        last = picture.thing(letter_id) if letter_id else None
        if is_new and last is not None and len(things) == 1:
            self.view.show_place(last.area())
        self._show_builds()

    def _selected_on_drawing(self, _thing: Thing | None) -> None:
        keys = [one.key for one in self.view.selections]
        self.letters.show_selected(keys)
        lettering = self._lettering()
        prepared = self.session.preparation.prepared
        if (
            prepared is not None
            and keys
            and (lettering is None or keys[-1] not in {one.id for one in lettering.letters})
        ):
            owner = next((one for one in prepared.lettering if keys[-1] in {x.id for x in one.letters}), None)
            if owner is not None:
                self._choose_artwork(owner.artwork)
        self._show_builds()

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


def scale_of_span(artwork: Artwork, lettering: Lettering, span: Span, length: float) -> Scale:
    """The scale that makes the distance between two points of an artwork `length` mm."""
    facts = lettering.file
    if facts is None:  # words in a font: what is set is the height of a capital
        capital = lettering.capital_height or lettering.height
        return Scale(ScaleBy.CAPITAL_HEIGHT, capital * length / span.length)
    ends = [
        tuple(round(at / facts.number + corner, 9) for at, corner in zip(point, facts.corner, strict=True))
        for point in (span.start, span.end)
    ]
    return Scale(ScaleBy.KNOWN_DIMENSION, length, ends[0], ends[1])


def builds_by_letter(job: Job, prepared: Prepared | None) -> dict[str, LetterBuild]:
    """Build of each letter; empty where all have the same."""
    if prepared is None:
        return {}
    names = {build.id: build.name for build in job.builds}
    artwork = {one.id: one for one in job.artwork}
    found = {
        letter.id: LetterBuild(
            names[artwork[one.artwork].build_of(letter.id)],
            artwork[one.artwork].build_of(letter.id) != artwork[one.artwork].build,
        )
        for one in prepared.lettering
        if one.artwork in artwork
        for letter in one.letters
    }
    return found if len({one.name for one in found.values()}) > 1 else {}


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
