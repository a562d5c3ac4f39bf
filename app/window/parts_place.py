"""Second place: every part to cut, how it may turn, and the seams of those too large for a sheet."""

from __future__ import annotations

from collections import Counter
from typing import Final

from PySide6.QtCore import QRectF
from PySide6.QtGui import QTransform
from PySide6.QtWidgets import QGridLayout, QWidget

from app.artwork.drawing import Letter
from app.errors import AppError
from app.fabrication.part import CutPart, Role
from app.job import edits
from app.job.document import Job, Seam
from app.job.kinds import KINDS
from app.window.artwork_picture import artwork_frames
from app.window.data_table import Cell, Column, DataTable, Row, number
from app.window.facts import FactList, Legend, Section, button, words
from app.window.fields import CheckBox, Choice
from app.window.findings_list import waiting_words, worst
from app.window.forms import panel_label
from app.window.part_measures import PartMeasures
from app.window.parts_picture import Arrangement, parts_picture
from app.window.picture import Thing
from app.window.place import Place
from app.window.seam_bar import SeamBar
from app.window.seam_hand import SeamHand
from app.window.seam_lines import seams_in_words
from app.window.session import Session
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import area, count
from geometry.findings import Finding
from geometry.measure import region_area, region_bounds
from geometry.units import format_length

Divided = tuple[str, Role]
"""Id of a letter and role of a part of it."""

COLUMNS: Final = (
    Column("Part", "Name of the part"),
    Column("Width", "Width of the part", 64, is_number=True),
    Column("Height", "Height of the part", 64, is_number=True),
    Column("Pieces", "How many are cut: the sets of its artwork. Type another number for all parts of it", 54,
           is_number=True, is_editable=True),
)  # fmt: skip
PIECES: Final = 3
ROWS_SHOWN: Final = 8


class PartsPlace(Place):
    """Parts laid out by role, material or letter, or standing in place; a legend shows and hides, a table lists."""

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__("Parts", session, theme, has_findings=True)
        self.arrangement = Arrangement.BY_ROLE
        self._changing: Divided | None = None
        self._before: tuple[Arrangement, tuple[Role, ...]] = (Arrangement.BY_ROLE, ())
        self._measures = PartMeasures(theme)
        self.arranged = Choice("How the parts are laid out")
        self.arranged.setToolTip("Every part apart, in groups; or all where they belong in the sign, front over back")
        self.arranged.offer([(one.value, one) for one in Arrangement], self.arrangement)
        self.arranged.chosen.connect(self.arrange)
        self.legend = Legend(theme)
        for line in self.legend.rows.values():
            line.box.toggled.connect(self._draw_again)
        self.table = DataTable("Parts and their sizes", COLUMNS, theme)
        self.table.chosen.connect(self._chosen_in_list)
        self.table.edited.connect(self._set_pieces)
        self.table.undo_wanted.connect(session.document.undo_stack.undo)
        self.copy_button = button("Copy", "plain", tip="Copy the table, or what is chosen in it", name="Copy parts")
        self.copy_button.clicked.connect(self.table.copy)
        self.table_section = Section("Parts", self.table)
        self.table_section.add_beside(self.copy_button)
        self.totals = FactList(wide_keys=True)
        self._make_turning()
        self._make_seams()
        self.body.addWidget(Section("Show", self.arranged, self.legend))
        self.body.addWidget(self.table_section)
        self.body.addWidget(self.seams_section)
        self.body.addWidget(self.selected)
        self.body.addWidget(Section("Turning on the sheet", self._turning))
        self.body.addWidget(Section("Net area of the parts", self.totals))
        self.body.addWidget(self.findings, 1)
        self.view.selected.connect(self._selected_on_drawing)
        session.preparation.changed.connect(self._prepared)
        session.preparation.busy_changed.connect(self.refresh)
        session.document.opened.connect(self.end_seams)
        session.document.changed.connect(self._job_changed)

    def _make_turning(self) -> None:
        self.material = Choice("Material whose parts turn")
        self.material.chosen.connect(lambda _material: self._show_turning())
        self.grain = CheckBox("It has grain")
        self.grain.setToolTip("Ticked, parts turn by 0° and 180° only, so that the grain runs along the letters")
        self.grain.clicked.connect(lambda is_on: self._edit_material("change the grain", edits.set_grain, is_on))
        self.alike = CheckBox("Both sides look alike")
        self.alike.setToolTip("Ticked, parts may be cut mirrored, face down, where that saves stock")
        self.alike.clicked.connect(lambda is_on: self._edit_material("change the sides", edits.set_sides_alike, is_on))
        self.turns = words("", "muted")
        self._turning = QWidget()
        grid = QGridLayout(self._turning)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setVerticalSpacing(5)
        grid.setColumnStretch(1, 1)
        grid.addWidget(panel_label("Material", self.material), 0, 0)
        grid.addWidget(self.material, 0, 1)
        grid.addWidget(self.grain, 1, 0, 1, 2)
        grid.addWidget(self.alike, 2, 0, 1, 2)
        grid.addWidget(self.turns, 3, 0, 1, 2)

    def _make_seams(self) -> None:
        self.seams = words("", "muted")
        self.divided = Choice("Part whose seams are changed")
        self.divided.setToolTip("Parts that are divided, and the part that is selected")
        self.change_seams = button("Change seams", tip="Drag, add and remove the seams of this part on the drawing")
        self.change_seams.clicked.connect(self.begin_seams)
        self.seams_section = Section("Seams", self.seams, self.divided, self.change_seams)
        self.seam_bar = SeamBar()
        self.seam_bar.add_wanted.connect(self._begin_adding)
        self.seam_bar.remove_wanted.connect(lambda: self._hand.remove() if self._hand is not None else None)
        self.seam_bar.find_wanted.connect(self._find_again)
        self.seam_bar.ended.connect(self.end_seams)
        self.board.insertWidget(0, self.seam_bar)

    def standing(self) -> Standing:
        """How many parts and pieces there are."""
        prepared = self.session.preparation.prepared
        if self.session.preparation.is_busy:
            return Standing(Mark.BUSY, "deriving…")
        if prepared is None:
            return Standing()
        pieces = sum(part.quantity for part in prepared.parts)
        text = f"{count(len(prepared.parts), 'part')}, {count(pieces, 'piece')}"
        return Standing(worst(self._findings()), text)

    def units_changed(self) -> None:
        """The tables hold lengths too."""
        self._prepared()

    def show_job(self, job: Job) -> None:
        """Follow the state of the work."""
        preparation = self.session.preparation
        self.findings.show_waiting(waiting_words(preparation.is_busy, preparation.prepared is not None))
        self._show_turning()
        prepared = preparation.prepared
        if prepared is None or not prepared.parts:
            text = "Deriving the parts…" if preparation.is_busy else "There are no parts yet."
            if not job.artwork:
                text = "There are no parts yet: the job has no artwork. Add some at the place before."
            self.show_empty(text)
            self.show_next("Next: Stock", is_ready=False)
        else:
            self.show_empty("")
            self.show_next("Next: Stock", "Then say what they are cut from.")

    def arrange(self, arrangement: Arrangement) -> None:
        """Show the parts another way."""
        self.arrangement = arrangement
        self.arranged.offer([(one.value, one) for one in Arrangement], arrangement)
        self.draw_soon()

    def shown_roles(self) -> tuple[Role, ...]:
        """Roles whose box is ticked."""
        return tuple(role for role, line in self.legend.rows.items() if line.box.isChecked())

    def draw(self) -> None:
        """The parts of the ticked roles; only those whose seams are changed while they are."""
        prepared, job = self.session.preparation.prepared, self.job
        if prepared is None or job is None or not prepared.parts:
            self.view.show_picture(None)
            return
        roles = self.shown_roles() if self._changing is None else (self._changing[1],)
        arrangement = self.arrangement if self._changing is None else Arrangement.IN_PLACE
        picture = parts_picture(
            prepared,
            job,
            arrangement,
            roles,
            self.theme,
            self.session.paths,
            self.board_px,
            self._findings() if self._changing is None else (),
            self._changing,
        )
        self.view.show_picture(picture, keep_view=self.keeps_view and arrangement is Arrangement.IN_PLACE)
        self._selected_on_drawing(self.view.selection)

    # Seams

    @property
    def _hand(self) -> SeamHand | None:
        return self.view.hand if isinstance(self.view.hand, SeamHand) else None

    def begin_seams(self) -> None:
        """Change the seams of the part chosen, on the drawing."""
        chosen = _divided(self.divided.currentData())
        if chosen is None:
            return
        self.end_seams()
        self._changing = chosen
        try:
            desk = self._desk(chosen)
        except AppError as error:
            self._changing = None
            self.said.emit(str(error))
            return
        letter = self._letter(chosen[0])
        frame = self._frame_of(letter, desk.origin)
        if letter is None or frame is None:
            self._changing = None
            return
        hand = SeamHand(self.theme, desk, frame, self)
        hand.judged.connect(self._show_check)
        hand.changed.connect(self._set_seams)
        hand.ended.connect(self.end_seams)
        self.view.select(None)
        self.draw_soon()
        self.seam_bar.begin(f"{letter.name} {chosen[1].value}")
        self.view.take_up(hand)
        hand.show_seams(self._seams_in_force(desk.now))
        boxes = [region_bounds(region) for region in letter.regions]
        whole = boxes[0]
        for box in boxes[1:]:
            whole = whole.union(box)
        self.layout().activate()
        self.view.show_place(frame.mapRect(QRectF(0.0, 0.0, whole.width, whole.height)), around=0.02)
        self.view.setFocus()

    def end_seams(self) -> None:
        """Show all parts again."""
        if self._changing is None:
            return
        self._changing = None
        hand = self._hand
        self.view.take_up(None)
        if hand is not None:
            hand.deleteLater()
        self.seam_bar.hide()
        self.draw_soon()

    def _desk(self, chosen: Divided):
        from app.fabrication.seam_desk import seam_desk

        job, letter, prepared = self.job, self._letter(chosen[0]), self.session.preparation.prepared
        return seam_desk(job, letter, chosen[1], prepared.seams)

    def _frame_of(self, letter: Letter | None, origin: tuple[float, float]) -> QTransform | None:
        prepared = self.session.preparation.prepared
        if letter is None or prepared is None:
            return None
        frames = artwork_frames(prepared, self.board_px).frames
        return QTransform.fromTranslate(*origin) * frames[letter.artwork]

    def _letter(self, letter_id: str) -> Letter | None:
        prepared = self.session.preparation.prepared
        letters = (letter for one in prepared.lettering for letter in one.letters) if prepared is not None else ()
        return next((letter for letter in letters if letter.id == letter_id), None)

    def _own_seams(self) -> tuple[Seam, ...] | None:
        job = self.job
        if job is None or self._changing is None:
            return None
        letter, role = self._changing
        return next((one.seams for one in job.seams if (one.letter, one.part) == (letter, role.value)), None)

    def _seams_in_force(self, now: tuple[Seam, ...]) -> tuple[Seam, ...]:
        own = self._own_seams()
        return now if own is None else own

    def _begin_adding(self) -> None:
        if self._hand is not None:
            self._hand.begin_adding()
            self.seam_bar.say("Click where the seam is to run. It runs upright, or level with Shift.")
            self.view.setFocus()

    def _set_seams(self, seams: tuple[Seam, ...], merge: str) -> None:
        if self._changing is not None:
            letter, role = self._changing
            self.edit("change seams", lambda job: edits.set_seams(job, letter, role.value, seams), merge=merge)

    def _find_again(self) -> None:
        if self._changing is not None:
            letter, role = self._changing
            self.edit("find seams again", lambda job: edits.set_seams(job, letter, role.value, None))

    def _show_check(self, check: object) -> None:
        hand = self._hand
        if hand is not None:
            self.seam_bar.show_check(check, hand.chosen, is_own=self._own_seams() is not None)

    def _job_changed(self, _before: Job | None, _after: Job, initiator: object) -> None:
        self.refresh()
        own = self._own_seams()
        if self._hand is not None and own is not None and initiator is not self:
            self._hand.show_seams(own)

    def _renew_desk(self) -> None:
        """After the parts were made anew: the seams of other layers may have moved, or the letter is gone."""
        hand, chosen = self._hand, self._changing
        if hand is None or chosen is None:
            return
        letter = self._letter(chosen[0])
        if letter is None or self.session.preparation.prepared is None:
            self.end_seams()
            return
        try:
            desk = self._desk(chosen)
        except AppError:
            self.end_seams()
            return
        hand.take_desk(desk)
        hand.show_seams(self._seams_in_force(desk.now))

    # The rest of the panel

    def _findings(self) -> tuple[Finding, ...]:
        prepared = self.session.preparation.prepared
        if prepared is None:
            return ()
        of_artwork = {id(finding) for one in prepared.lettering for finding in one.findings}
        return tuple(finding for finding in prepared.findings if id(finding) not in of_artwork)

    def _prepared(self) -> None:
        prepared, job = self.session.preparation.prepared, self.job
        parts = prepared.parts if prepared is not None else ()
        amounts: Counter[Role] = Counter()
        for part in parts:
            amounts[part.role] += part.quantity
        self.legend.show_amounts(amounts)
        facts = []
        if job is not None:
            names = {material.id: material.name for material in job.materials}
            used: dict[str, float] = {}
            for part in parts:
                used[part.material] = used.get(part.material, 0.0) + part.quantity * region_area(part.region)
            facts = [(names.get(material, material), area(net, job.units)) for material, net in used.items()]
            self.material.offer(
                [(names.get(material, material), material) for material in used],
                self.material.currentData() if self.material.currentData() in used else next(iter(used), None),
            )
            self._fill_table(parts, job)
        self.totals.show_facts(facts)
        seams = prepared.seams if prepared is not None else ()
        self.seams.setText(seams_in_words(seams) if seams else "No part is divided.")
        self._offer_divided()
        self.findings.show_findings(self._findings())
        self.draw_soon(keep_view=self._changing is not None)
        self._renew_desk()
        self.refresh()

    def _fill_table(self, parts: tuple[CutPart, ...], job: Job) -> None:
        rows = []
        for part in parts:
            box = region_bounds(part.region)
            rows.append(
                Row(
                    part.id,
                    (
                        Cell(part.name, tip=f"{part.name} ({part.id})"),
                        number(format_length(box.width, job.units.value), box.width),
                        number(format_length(box.height, job.units.value), box.height),
                        number(str(part.quantity), part.quantity),
                    ),
                )
            )
        self.table.fill(rows)
        self.table_section.heading.setText(f"Parts ({len(rows)})")
        self.table_section.setVisible(bool(rows))
        shown = max(min(len(rows), ROWS_SHOWN), 1)
        high = self.table.verticalHeader().defaultSectionSize()
        self.table.setFixedHeight(self.table.horizontalHeader().sizeHint().height() + shown * high + 4)

    def _set_pieces(self, changes: list[tuple[str, int, str]]) -> None:
        """Pieces are the sets of the artwork the part belongs to; of several numbers for one artwork the last holds."""
        prepared = self.session.preparation.prepared
        if prepared is None:
            return
        artwork_of = {letter.id: one.artwork for one in prepared.lettering for letter in one.letters}
        letter_of = {part.id: part.letter for part in prepared.parts}
        wanted: dict[str, int] = {}
        for key, _column, text in changes:
            if not text.isdecimal() or not 1 <= int(text) <= 999:
                self.said.emit(f"'{text}' is no number of pieces; give a whole number from 1 to 999")
                self.table.refuse()
                return
            wanted[artwork_of[letter_of[key]]] = int(text)

        def with_sets(job: Job) -> Job:
            for artwork, sets in wanted.items():
                job = edits.set_sets(job, artwork, sets)
            return job

        self.edit("change pieces", with_sets)

    def _offer_divided(self) -> None:
        prepared, job = self.session.preparation.prepared, self.job
        entries: dict[Divided, str] = {}
        if prepared is not None and job is not None:
            names = {letter.id: letter.name for one in prepared.lettering for letter in one.letters}
            numbers: dict[Divided, int] = {}
            for seam in prepared.seams:
                key = (seam.letter, seam.role)
                numbers[key] = numbers.get(key, 0) + 1
            for (letter, role), seams in numbers.items():
                entries[letter, role] = f"{names.get(letter, letter)} {role.value}, {count(seams, 'seam')}"
            part = self._selected_part()
            if part is not None and part.role.value in self._divisible(part):
                entries.setdefault((part.letter, part.role), f"{names.get(part.letter, part.letter)} {part.role.value}")
        now = _divided(self.divided.currentData())
        part = self._selected_part()
        wanted = (part.letter, part.role) if part is not None else now
        chosen = wanted if wanted in entries else next(iter(entries), None)
        self.divided.offer([(text, _key(key)) for key, text in entries.items()], _key(chosen) if chosen else None)
        for widget in (self.divided, self.change_seams):
            widget.setVisible(bool(entries))

    def _divisible(self, part: CutPart) -> tuple[str, ...]:
        job, letter = self.job, self._letter(part.letter)
        artwork = next((one for one in job.artwork if letter is not None and one.id == letter.artwork), None)
        if artwork is None:
            return ()
        build = next(one for one in job.builds if one.id == artwork.build_of(part.letter))
        return KINDS[build.kind].divisible

    def _selected_part(self) -> CutPart | None:
        prepared, thing = self.session.preparation.prepared, self.view.selection
        if prepared is None or thing is None:
            return None
        return next((part for part in prepared.parts if part.id == thing.key), None)

    def _show_turning(self) -> None:
        job = self.job
        material = next((one for one in job.materials if one.id == self.material.currentData()), None) if job else None
        self._turning.setEnabled(material is not None)
        if material is None:
            return
        self.grain.setChecked(material.has_grain)
        self.alike.setChecked(material.sides_alike)
        turns = "Parts turn by 0° and 180° only" if material.has_grain else "Parts turn to any angle"
        self.turns.setText(turns + (", and may be cut mirrored." if material.sides_alike else "; never mirrored."))

    def _edit_material(self, text: str, edit, is_on: bool) -> None:
        material = self.material.currentData()
        if isinstance(material, str):
            self.edit(text, lambda job: edit(job, material, is_on))

    def _chosen_in_list(self, part_id: str) -> None:
        picture = self.view.picture
        thing = picture.thing(part_id) if picture is not None and part_id else None
        if thing is not None and thing is not self.view.selection:
            self.view.select(thing)
            self.view.show_place(thing.area())

    def _selected_on_drawing(self, thing: Thing | None) -> None:
        job = self.job
        part = self._selected_part()
        if job is None:
            return
        self._measures.show_thing(self.view.scene(), thing if part is not None else None, job.units)
        if part is not None:
            self.table.choose(part.id)
            self.material.setCurrentIndex(self.material.findData(part.material))
            self._show_turning()
        self._offer_divided()

    def _draw_again(self) -> None:
        self.draw_soon(keep_view=True)


def _key(divided: Divided) -> str:
    """As the choice keeps it: Qt makes lists of tuples."""
    return f"{divided[0]}\n{divided[1].value}"


def _divided(key: object) -> Divided | None:
    if not isinstance(key, str):
        return None
    letter, role = key.split("\n")
    return letter, Role(role)
