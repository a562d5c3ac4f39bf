"""Second place: every part to cut, by role."""

from __future__ import annotations

from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QVBoxLayout, QWidget

from app.fabrication.part import Role
from app.window.artwork_place import waiting_words, worst
from app.window.facts import FactList, LegendRow, Section, button, words
from app.window.parts_picture import Arrangement, parts_picture
from app.window.place import Place
from app.window.seam_lines import seams_in_words
from app.window.session import Session
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import area, count
from geometry.findings import Finding
from geometry.measure import region_area


class PartsPlace(Place):
    """Parts laid out by role or standing in place, with a legend that shows and hides."""

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__("Parts", session, theme)
        self.arrangement = Arrangement.BY_ROLE
        choice = QButtonGroup(self)
        switch = QWidget()
        row = QHBoxLayout(switch)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        self.arrangement_buttons = {}
        for arrangement, tip in (
            (Arrangement.BY_ROLE, "Every part apart, one row of each role after the other"),
            (Arrangement.IN_PLACE, "The parts where they belong in the sign, front over back"),
        ):
            made = button(arrangement.value, "plain", tip=tip, name=f"Show parts: {arrangement.value.lower()}")
            made.setCheckable(True)
            made.setChecked(arrangement is self.arrangement)
            made.clicked.connect(lambda _checked=False, arrangement=arrangement: self.arrange(arrangement))
            choice.addButton(made)
            row.addWidget(made)
            self.arrangement_buttons[arrangement] = made
        row.addStretch(1)
        self.legend = {role: LegendRow(theme, role) for role in Role}
        legend = QWidget()
        column = QVBoxLayout(legend)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        for line in self.legend.values():
            column.addWidget(line)
            line.box.toggled.connect(self._draw_again)
        self.seams = words("", "muted")
        self.seams.setContentsMargins(0, 4, 0, 0)
        column.addWidget(self.seams)
        self.totals = FactList(wide_keys=True)
        self.body.addWidget(Section("Show", switch, legend))
        self.body.addWidget(Section("Net area of the parts", self.totals))
        self.body.addWidget(self.selected)
        self.body.addWidget(self.findings, 1)
        session.preparation.changed.connect(self._prepared)
        session.preparation.busy_changed.connect(self.refresh)
        session.document.changed.connect(self.refresh)

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

    def refresh(self) -> None:
        """Follow the job's units and the state of the work."""
        self.standing_changed.emit()
        job = self.job
        if job is None:
            return
        if self.view.units is not job.units:
            self.show_units(job.units)
            self._prepared()
        self.show_units(job.units)
        preparation = self.session.preparation
        self.findings.show_waiting(waiting_words(preparation.is_busy, preparation.prepared is not None))
        prepared = self.session.preparation.prepared
        if prepared is None or not prepared.parts:
            waiting = self.session.preparation.is_busy
            self.show_empty("Deriving the parts…" if waiting else "There are no parts yet.")
            self.show_next("Next: Stock", is_ready=False)
        else:
            self.show_empty("")
            self.show_next("Next: Stock", "Then say what they are cut from.")

    def arrange(self, arrangement: Arrangement) -> None:
        """Show the parts the other way."""
        self.arrangement = arrangement
        self.arrangement_buttons[arrangement].setChecked(True)
        self.draw_soon()

    def shown_roles(self) -> tuple[Role, ...]:
        """Roles whose box is ticked."""
        return tuple(role for role, line in self.legend.items() if line.box.isChecked())

    def _findings(self) -> tuple[Finding, ...]:
        prepared = self.session.preparation.prepared
        if prepared is None:
            return ()
        of_artwork = {id(finding) for one in prepared.lettering for finding in one.findings}
        return tuple(finding for finding in prepared.findings if id(finding) not in of_artwork)

    def _prepared(self) -> None:
        prepared, job = self.session.preparation.prepared, self.job
        parts = prepared.parts if prepared is not None else ()
        for role, line in self.legend.items():
            pieces = sum(part.quantity for part in parts if part.role is role)
            line.show_amount(pieces)
        facts = []
        if job is not None:
            names = {material.id: material.name for material in job.materials}
            used: dict[str, float] = {}
            for part in parts:
                used[part.material] = used.get(part.material, 0.0) + part.quantity * region_area(part.region)
            facts = [(names.get(material, material), area(net, job.units)) for material, net in used.items()]
        self.totals.show_facts(facts)
        seams = prepared.seams if prepared is not None else ()
        self.seams.setText(f"Seams: {seams_in_words(seams)}; seen in place." if seams else "")
        self.seams.setVisible(bool(seams))
        self.findings.show_findings(self._findings())
        self.draw_soon()
        self.refresh()

    def draw(self) -> None:
        """The parts of the ticked roles."""
        prepared, job = self.session.preparation.prepared, self.job
        if prepared is None or job is None or not prepared.parts:
            self.view.show_picture(None)
            return
        roles, paths = self.shown_roles(), self.session.paths
        picture = parts_picture(prepared, job, self.arrangement, roles, self.theme, paths, self.board_px)
        keep_view = self.keeps_view and self.arrangement is Arrangement.IN_PLACE
        self.view.show_picture(picture, keep_view=keep_view)

    def _draw_again(self) -> None:
        self.draw_soon(keep_view=True)
