"""What is asked about a piece of the rack: a new one by hand, a size measured, a place, a reason."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from app.errors import AppError
from app.job.document import DisplayUnits
from app.stock.book import Material
from app.stock.rack import check_offcut
from app.stock.rack_items import Measured, NewOffcut, RackError, RackOffcut, rectangle_offcut
from app.window.facts import button, words
from app.window.fields import Choice
from app.window.wording import sentence, size
from geometry.errors import InvalidLength
from geometry.units import format_length, parse_length

OUTLINES: Final = "Drawings (*.svg *.dxf);;All files (*)"
LENGTHS: Final = "24\", 4' 6\", 1 1/2 in, 610 mm; a bare number is in the job's units"


@dataclass(frozen=True, slots=True)
class Returned:
    """A piece that comes back: its size where something was cut off, and its place where that changed."""

    measured: Measured | None
    slot: str | None


class _PieceDialog(QDialog):
    """Fields with one sentence under them for what is wrong; Enter accepts, Esc leaves."""

    def __init__(self, title: str, intro: str, units: DisplayUnits, parent: QWidget | None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setMinimumWidth(400)
        self.units = units
        self.form = QFormLayout()
        self.form.setHorizontalSpacing(12)
        self.form.setVerticalSpacing(8)
        self.wrong = words("", "bad")
        self.wrong.hide()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        self.ok = buttons.button(QDialogButtonBox.StandardButton.Ok)
        self.ok.setText(title.removesuffix("…"))
        self.ok.setProperty("look", "primary")
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        box = QVBoxLayout(self)
        box.setContentsMargins(18, 16, 18, 14)
        box.setSpacing(12)
        box.addWidget(words(intro, "muted"))
        box.addLayout(self.form)
        box.addWidget(self.wrong)
        box.addWidget(buttons)

    def accept(self) -> None:
        """Close only when all makes sense."""
        try:
            self.read()
        except (AppError, InvalidLength) as error:
            self.wrong.setText(sentence(str(error)))
            self.wrong.show()
            return
        super().accept()

    def read(self) -> None:
        """Take in the fields; an error says what is wrong."""
        raise NotImplementedError

    def line(self, label: str, tip: str = "", text: str = "", hint: str = "") -> QLineEdit:
        """A field of the form."""
        field = QLineEdit(text)
        field.setAccessibleName(label)
        field.setToolTip(tip)
        field.setPlaceholderText(hint)
        self.form.addRow(words(label, "key", wrap=False), field)
        return field

    def length(self, field: QLineEdit) -> float:
        """The length in a field, mm."""
        if not field.text().strip():
            raise RackError(f'{field.accessibleName().lower()} is empty; give a length like 24" or 610 mm')
        return parse_length(field.text(), default_unit=self.units.value)

    def may_be_length(self, field: QLineEdit) -> float | None:
        """The length in a field that may be left empty."""
        return self.length(field) if field.text().strip() else None


class MeasureDialog(_PieceDialog):
    """The size found on a piece."""

    def __init__(self, piece: RackOffcut, units: DisplayUnits, parent: QWidget | None = None) -> None:
        intro = f"Offcut {piece.id}, now {size(piece.width, piece.height, units)}. What is measured counts from now on."
        super().__init__("Record size", intro, units, parent)
        self.width_field = self.line("Width", LENGTHS, format_length(piece.width, units.value))
        self.height_field = self.line("Height", LENGTHS, format_length(piece.height, units.value))
        self.thickness = self.line("Thickness", LENGTHS, hint="not measured")
        self.answer: Measured | None = None

    def read(self) -> None:
        """The measured size."""
        thickness = self.may_be_length(self.thickness)
        self.answer = Measured(self.length(self.width_field), self.length(self.height_field), thickness)


class ReturnDialog(_PieceDialog):
    """A taken piece that comes back."""

    def __init__(self, piece: RackOffcut, units: DisplayUnits, parent: QWidget | None = None) -> None:
        intro = f"Offcut {piece.id} comes back. Give its size when something was cut off it."
        super().__init__("Return to the rack", intro, units, parent)
        as_it_was = size(piece.width, piece.height, units)
        self.width_field = self.line("Width", LENGTHS, hint=f"as it was: {as_it_was}")
        self.height_field = self.line("Height", LENGTHS, hint="as it was")
        self.slot = self.line("Place", "Where it stands on the rack", piece.slot)
        self._slot = piece.slot
        self.answer: Returned | None = None

    def read(self) -> None:
        """Size and place."""
        sides = self.may_be_length(self.width_field), self.may_be_length(self.height_field)
        if (sides[0] is None) != (sides[1] is None):
            raise RackError("give both width and height, or neither when the piece is as it was")
        measured = None if sides[0] is None or sides[1] is None else Measured(sides[0], sides[1])
        slot = self.slot.text().strip()
        self.answer = Returned(measured, None if slot == self._slot else slot)


class AddPieceDialog(_PieceDialog):
    """A piece put on the rack by hand: a rectangle that was measured, or any outline from a drawing."""

    def __init__(
        self,
        materials: Mapping[str, Material],
        units: DisplayUnits,
        *,
        material: str = "",
        folder: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__("Put on the rack", "A piece of sheet to keep for a later job.", units, parent)
        self._materials, self._folder = materials, folder
        self.material = Choice("Material")
        offered = sorted((one.name, key) for key, one in materials.items())
        self.material.offer(offered, material if material in materials else offered[0][1] if offered else None)
        self.form.addRow(words("Material", "key", wrap=False), self.material)
        self.width_field = self.line("Width", LENGTHS)
        self.height_field = self.line("Height", LENGTHS)
        self.outline = QLineEdit()
        self.outline.setAccessibleName("Outline")
        self.outline.setToolTip("SVG or DXF file of the true edge, with its unit, in place of width and height")
        self.outline.setPlaceholderText("a rectangle")
        self.browse = button("Choose…", tip="Choose a drawing of the edge")
        self.browse.clicked.connect(self._choose_file)
        row = QHBoxLayout()
        row.addWidget(self.outline, 1)
        row.addWidget(self.browse)
        self.form.addRow(words("Or outline", "key", wrap=False), row)
        self.thickness = self.line("Measured thickness", LENGTHS, hint="not measured")
        self.slot = self.line("Place", "Where it stands on the rack")
        self.lot = self.line("Lot", "Colour or production lot, as on the sheet's label")
        self.note = self.line("Note")
        self.answer: NewOffcut | None = None

    def read(self) -> None:
        """The piece."""
        key = self.material.currentData()
        if key is None:
            raise RackError("there is no material to choose from; add one to the stock book")
        material = self._materials[key]
        thickness = self.may_be_length(self.thickness)
        texts = {"lot": self.lot.text().strip(), "slot": self.slot.text().strip(), "note": self.note.text().strip()}
        if self.outline.text().strip():
            from app.planning.rack_outline import outline_of_file

            outline, usable = outline_of_file(self.outline.text().strip())
            if thickness is not None:  # a measured piece is reckoned with as the rectangle that was measured
                raise RackError("a piece with a drawn outline keeps its nominal thickness; leave the thickness empty")
            piece = NewOffcut(material.id, material.thickness, outline, usable, **texts)
        else:
            width, height = self.length(self.width_field), self.length(self.height_field)
            measured = Measured(width, height, thickness)
            piece = rectangle_offcut(material.id, material.thickness, width, height, measured=measured, **texts)
        check_offcut(piece)
        self.answer = piece

    def _choose_file(self) -> None:
        path, _kind = QFileDialog.getOpenFileName(self, "Outline of the piece", self._folder, OUTLINES)
        if path:
            self._folder = os.path.dirname(path)
            self.outline.setText(path)
