"""Second place: every part to cut, how it may turn, and the seams of those too large for a sheet."""

from __future__ import annotations

from collections import Counter
from typing import Final

from PySide6.QtWidgets import QGridLayout, QWidget

from app.fabrication.part import CutPart, Role
from app.job import edits
from app.job.document import Job
from app.window.data_table import Cell, Column, DataTable, Row, number
from app.window.facts import FactList, Legend, Section, button, words
from app.window.fields import CheckBox, Choice
from app.window.findings_list import waiting_words, worst
from app.window.forms import panel_label
from app.window.part_measures import PartMeasures
from app.window.parts_picture import Arrangement, parts_picture
from app.window.picture import Thing
from app.window.place import Place
from app.window.seam_changes import SeamChanges
from app.window.session import Session
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import area, count
from geometry.findings import Finding
from geometry.measure import region_area, region_bounds
from geometry.units import format_length

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
        self.seams = SeamChanges(self)
        self.board.insertWidget(0, self.seams.bar)
        self.body.addWidget(Section("Show", self.arranged, self.legend))
        self.body.addWidget(self.table_section)
        self.body.addWidget(self.seams)
        self.body.addWidget(self.selected)
        self.body.addWidget(Section("Turning on the sheet", self._turning))
        self.body.addWidget(Section("Net area of the parts", self.totals))
        self.body.addWidget(self.findings, 1)
        self.view.selected.connect(self._selected_on_drawing)
        session.preparation.changed.connect(self._prepared)
        session.preparation.busy_changed.connect(self.refresh)
        session.document.opened.connect(self.seams.end)
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
        roles = self.shown_roles() if self.seams.changing is None else (self.seams.changing[1],)
        arrangement = self.arrangement if self.seams.changing is None else Arrangement.IN_PLACE
        picture = parts_picture(
            prepared,
            job,
            arrangement,
            roles,
            self.theme,
            self.session.paths,
            self.board_px,
            self._findings() if self.seams.changing is None else (),
            self.seams.changing,
        )
        self.view.show_picture(picture, keep_view=self.keeps_view and arrangement is Arrangement.IN_PLACE)
        self._selected_on_drawing(self.view.selection)

    def _job_changed(self, _before: Job | None, _after: Job, initiator: object) -> None:
        self.refresh()
        if initiator is not self:
            self.seams.follow()

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
        self.seams.show_seams(self._selected_part())
        self.findings.show_findings(self._findings())
        self.draw_soon(keep_view=self.seams.changing is not None)
        self.seams.renew()
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
        self.seams.offer(part)

    def _draw_again(self) -> None:
        self.draw_soon(keep_view=True)
