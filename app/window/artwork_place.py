"""First place: the artwork as read, and at what size it is made."""

from __future__ import annotations

import os

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QWidget

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
from app.window.findings_list import waiting_words, worst
from app.window.letters_list import LetterBuild, LettersList, letter_sizes
from app.window.picture import Thing
from app.window.place import Place
from app.window.reading_choices import ReadingChoices
from app.window.seam_lines import seams_in_words
from app.window.session import Session
from app.window.size_fields import SizeFields, scale_of_span
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import count, sentence
from geometry.findings import Finding
from geometry.units import format_both, format_length


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
        self.size_fields = SizeFields()
        self.size_fields.artwork_chosen.connect(self._choose_artwork)
        self.size_fields.edited.connect(lambda text, edit, merge: self.edit(text, edit, merge=merge))
        self.size_fields.refused.connect(self.said)
        self.size_fields.points_wanted.connect(self.begin_dimension)
        self.facts = FactList()
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
        self._size_section = Section("Artwork", self.source, deeds, self.size_fields, self.reading, more)
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
        for widget in (self.size_fields, self._deeds, self.reading, self._build_section, self._made_section):
            widget.setVisible(artwork is not None)
        if artwork is None:
            self._show_none()
            return
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
        self.size_fields.show_artwork(job, artwork, lettering)
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

    def _choose_artwork(self, artwork_id: str) -> None:
        self._artwork_id = artwork_id
        self.refresh()


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
