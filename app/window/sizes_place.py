"""Sizes the parts are cut from, and how much room there is between them: first page of the stock."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from app.fabrication.part import CutPart
from app.job import edits
from app.job.document import Job
from app.stock.book import Material, StockSheet
from app.stock.money import format_price
from app.window.facts import FactList, Section, button, clear, words
from app.window.fields import CheckBox, Choice, LengthField, WholeNumber
from app.window.forms import field_grid
from app.window.place import Place
from app.window.room import Room
from app.window.session import Session
from app.window.sheet_picture import stock_picture
from app.window.theme import Theme
from app.window.walk import Mark, Standing
from app.window.wording import count, size
from geometry.measure import region_bounds
from geometry.units import format_length

ANY_NUMBER = -1


class SizesPlace(Place):
    """Sheet sizes of one material at a time, with its cutter, web and margin.

    Signals
    -------
    book_wanted : str
        Sizes of this material are to be chosen from the stock book.
    """

    book_wanted = Signal(str)

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__("Sizes of this job", session, theme)
        self._material_id = ""
        self._room = Room(session.paths)
        self.material = Choice("Material")
        self.material.chosen.connect(self._choose_material)
        self.web = LengthField("Web between parts", may_be_least=True)
        self.web.setToolTip("Material left between two cuts; spacing is the cutter's diameter plus this.")
        self.web.committed.connect(self._set_web)
        self.margin = LengthField("Margin at the sheet's edge", may_be_least=True)
        self.margin.committed.connect(self._set_margin)
        for field in (self.web, self.margin):
            field.refused.connect(self.said)
        self.spacing = words("", wrap=False)
        self.cutter = words("")
        self.facts = FactList()
        fields = field_grid(
            ("Cutter", self.cutter), ("Web", self.web), ("Spacing", self.spacing), ("Margin", self.margin)
        )
        self._rows = QWidget()
        self._rows_box = QVBoxLayout(self._rows)
        self._rows_box.setContentsMargins(0, 0, 0, 0)
        self._rows_box.setSpacing(8)
        self._counts: dict[str, WholeNumber] = {}
        self.body.addWidget(Section("Material", self.material, self.facts))
        self.body.addWidget(Section("Room for the cutter", fields))
        self.more = button("Add sizes from the stock book…", tip="Choose among the sizes the stock book has for it")
        self.more.clicked.connect(lambda: self.book_wanted.emit(self._material_id_shown()))
        self.rack = CheckBox()
        self.rack.setAccessibleName("Use offcuts of the rack first")
        self.rack.setToolTip(
            "Offcuts cost nothing and are filled first; those used are reserved when files are written"
        )
        self.rack.toggled.connect(session.use_rack)
        self.body.addWidget(Section("Sheet sizes, and how many can be had", self._rows, self.more, self.rack))
        self.body.addWidget(self.selected)
        self.body.addStretch(1)
        session.preparation.changed.connect(self._prepared)
        session.document.changed.connect(self.refresh)
        session.rack.changed.connect(self._show_rack)
        session.rack_use_changed.connect(self._show_rack)

    @property
    def counts(self) -> dict[str, WholeNumber]:
        """The field for the number of each stock size shown, by id."""
        return self._counts

    def standing(self) -> Standing:
        """How many sizes there are, or that a material has none."""
        job = self.job
        prepared = self.session.preparation.prepared
        if job is None or prepared is None:
            return Standing()
        bare = [material.name for material in self._materials() if not sheets_of(job, material)]
        if bare:
            return Standing(Mark.FAULT, f"no stock for {bare[0]}")
        large = [material.name for material in self._materials() if self._is_too_small_for_a_part(job, material)]
        if large:
            return Standing(Mark.LOOK, f"a part fits no sheet: {large[0]}")
        sizes = sum(len(sheets_of(job, material)) for material in self._materials())
        return Standing(Mark.DONE, f"{count(len(self._materials()), 'material')}, {count(sizes, 'size')}")

    def show_job(self, job: Job) -> None:
        """Show the material's stock and fields."""
        material = self._material()
        ready = self.session.preparation.prepared is not None
        self.show_next("Next: Sheets", "Then plan the sheets.", is_ready=ready)
        if material is None:
            self.draw_soon()
            self.show_empty("This job has no material yet.")
            return
        self.show_empty("")
        units = job.units
        cutter = next((one for one in job.cutters if one.id == material.cutter), None)
        self.material.offer([(one.name, one.id) for one in self._materials()], material.id)
        parts = self._parts(material)
        self.facts.show_facts(
            (
                ("Thickness", format_length(material.thickness, units.value)),
                ("Grain", "along the sheet; parts turn by 180° only" if material.has_grain else "none; parts may turn"),
                ("Parts", str(sum(part.quantity for part in parts)) + " pieces"),
            )
        )
        self.cutter.setText(cutter.name if cutter is not None else material.cutter)
        diameter = cutter.diameter if cutter is not None else 0.0
        self.spacing.setText(f"{format_length(diameter + material.web, units.value)} (cutter + web)")
        for field, length in ((self.web, material.web), (self.margin, material.margin)):
            if not field.isModified():
                field.show_length(length, units)
        stock = sheets_of(job, material)
        self._show_rows(stock, job)
        self._show_rack()
        self.draw_soon(keep_view=True)

    def draw(self) -> None:
        """The sheet sizes of the material, to scale."""
        job, material = self.job, self._material()
        if job is None or material is None:
            self.view.show_picture(None)
            return
        parts, stock = self._parts(material), sheets_of(job, material)
        fitting = {sheet.id: self._room.fitting(parts, sheet, material.margin) for sheet in stock}
        largest = largest_part(parts)
        picture = stock_picture(stock, material.margin, largest, (fitting, len(parts)), job.units, self.theme)
        shown = self.view.picture
        is_same_size = shown is not None and shown.bounds == picture.bounds
        self.view.show_picture(picture, keep_view=self.keeps_view and is_same_size)

    def _show_rows(self, stock: tuple[StockSheet, ...], job: Job) -> None:
        if [sheet.id for sheet in stock] != list(self._counts):
            self._counts.clear()
            clear(self._rows_box)
            for sheet in stock:
                self._rows_box.addWidget(self._row(sheet, job))
            if not stock:
                self._rows_box.addWidget(words("No sheet of this material is in the job's stock.", "bad"))
        for sheet in stock:
            self._counts[sheet.id].show_value(ANY_NUMBER if sheet.count is None else sheet.count)

    def _row(self, sheet: StockSheet, job: Job) -> QWidget:
        row = QWidget()
        grid = QGridLayout(row)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(0)
        grid.setColumnStretch(0, 1)
        price = "no price" if sheet.price is None else f"{format_price(sheet.price, job.currency)} {job.currency}"
        measures = size(sheet.width, sheet.height, job.units)
        grid.addWidget(words(f"{sheet.name}, {price}", wrap=False), 0, 0)
        grid.addWidget(words(measures, "muted", wrap=False), 1, 0)
        field = WholeNumber(f"How many {sheet.name} can be had", ANY_NUMBER, 9999)
        field.setSpecialValueText("any number")
        field.setToolTip("How many of this sheet can be had; one below 0 means as many as wanted")
        field.setFixedWidth(112)
        field.valueChanged.connect(lambda value, sheet_id=sheet.id: self._set_count(sheet_id, value))
        grid.addWidget(field, 0, 1, 2, 1)
        remove = button("×", "plain", tip=f"Cut nothing from {sheet.name} in this job", name=f"Remove {sheet.name}")
        remove.setFixedWidth(28)
        remove.clicked.connect(lambda: self._remove(sheet.id))
        grid.addWidget(remove, 0, 2, 2, 1)
        self._counts[sheet.id] = field
        return row

    def _materials(self) -> tuple[Material, ...]:
        """Materials that parts are cut from; all of the job's before parts are known."""
        job, prepared = self.job, self.session.preparation.prepared
        if job is None:
            return ()
        if prepared is None:
            return job.materials
        used = {part.material for part in prepared.parts}
        return tuple(material for material in job.materials if material.id in used) or job.materials

    def _is_too_small_for_a_part(self, job: Job, material: Material) -> bool:
        """Whether there is a part that fits no sheet of the material, turned as it may be."""
        stock = sheets_of(job, material)
        return any(
            not any(self._room.fits(part, sheet, material.margin) for sheet in stock) for part in self._parts(material)
        )

    def _prepared(self) -> None:
        self._room.clear()
        self.refresh()

    def _material(self) -> Material | None:
        materials = self._materials()
        return next((one for one in materials if one.id == self._material_id), materials[0] if materials else None)

    def _parts(self, material: Material) -> tuple[CutPart, ...]:
        prepared = self.session.preparation.prepared
        return tuple(part for part in prepared.parts if part.material == material.id) if prepared else ()

    def _choose_material(self, material_id: str) -> None:
        self._material_id = material_id
        self.refresh()

    def _set_web(self, web: float) -> None:
        material = self._material()
        if material is not None:
            self.edit("change web", lambda job: edits.set_web(job, material.id, web))

    def _set_margin(self, margin: float) -> None:
        material = self._material()
        if material is not None:
            self.edit("change margin", lambda job: edits.set_margin(job, material.id, margin))

    def _remove(self, sheet_id: str) -> None:
        self.edit("remove a sheet size", lambda job: edits.remove_stock(job, sheet_id))

    def _show_rack(self) -> None:
        """How many offcuts this job may use, and whether it does."""
        job = self.job
        if job is None or not self.isVisible():
            return
        from app.planning.rack_stock import rack_sheets

        free = self.session.rack.read(lambda rack: rack.free_for(job.name), ())
        pieces = sum(len(rack_sheets(free, material)) for material in self._materials())
        self.rack.setText(f"Use offcuts of the rack first ({pieces})")
        self.rack.setEnabled(bool(pieces) or self.session.uses_rack)
        self.rack.blockSignals(True)
        self.rack.setChecked(self.session.uses_rack)
        self.rack.blockSignals(False)

    def _material_id_shown(self) -> str:
        material = self._material()
        return material.id if material is not None else ""

    def showEvent(self, event: object) -> None:
        """The rack may have changed since."""
        super().showEvent(event)
        self._show_rack()

    def _set_count(self, sheet_id: str, value: int) -> None:
        number = None if value == ANY_NUMBER else value
        merge = self._counts[sheet_id].gesture
        self.edit("change number of sheets", lambda job: edits.set_stock_count(job, sheet_id, number), merge=merge)


def sheets_of(job: Job, material: Material) -> tuple[StockSheet, ...]:
    """Stock of a material."""
    return tuple(sheet for sheet in job.stock if sheet.material == material.id)


def largest_part(parts: tuple[CutPart, ...]) -> tuple[float, float] | None:
    """Width and height of the part that needs the longest sheet."""
    sizes = [(bounds.width, bounds.height) for bounds in (region_bounds(part.region) for part in parts)]
    return max(sizes, key=max, default=None)
