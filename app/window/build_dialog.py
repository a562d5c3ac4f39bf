"""A build: its name, the kind of letter it makes, a material for each role, and every number that can be changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.errors import AppError
from app.job import edits
from app.job.document import Build, DisplayUnits, Job
from app.job.kinds import KINDS, Kind
from app.job.new import free_id
from app.job.quantities import Quantity, format_quantity, parse_quantity
from app.job.settings import SETTINGS, Setting
from app.stock.defaults import shipped
from app.window.facts import button, clear, words
from app.window.fields import Choice
from app.window.forms import panel_label
from app.window.wording import sentence
from geometry.errors import InvalidLength
from geometry.units import format_length, parse_length

_BARE: Final = {
    Quantity.AREA: {DisplayUnits.INCHES: " in2", DisplayUnits.MILLIMETRES: " mm2"},
    Quantity.TEMPERATURE: {DisplayUnits.INCHES: " F", DisplayUnits.MILLIMETRES: " C"},
    Quantity.EXPANSION: {DisplayUnits.INCHES: " /F", DisplayUnits.MILLIMETRES: " /C"},
}
"""What a number without a unit is taken to be."""


@dataclass(frozen=True, slots=True)
class ChosenBuild:
    """What the dialog was left with: the build, and whether it is a new one."""

    build: Build
    is_new: bool


class SettingField(QLineEdit):
    """One number of a build; empty for the usual value, which it shows faintly."""

    def __init__(self, setting: Setting, units: DisplayUnits, value: float | None) -> None:
        super().__init__("" if value is None else _shown(value, setting.quantity, units))
        self._setting, self._units, self._value = setting, units, value
        self.setPlaceholderText(_shown(setting.default, setting.quantity, units))
        self.setAccessibleName(setting.name)
        bounds = " to ".join(_shown(one, setting.quantity, units) for one in (setting.least, setting.most))
        self.setToolTip(
            f"{setting.meaning}\nUsually {self.placeholderText()} ({setting.mark}). From {bounds}. "
            "Leave it empty for the usual value."
        )

    def value(self) -> float | None:
        """What was typed, in the setting's unit; None for the usual value.

        Raises
        ------
        ValueError, InvalidLength
            When it is not understood; in words.
        """
        text = self.text().strip()
        if not text:
            return None
        if not self.isModified():
            return self._value  # not rounded to what is shown
        quantity = self._setting.quantity
        if quantity is Quantity.LENGTH:
            return parse_length(text, default_unit=self._units.value)
        try:
            return parse_quantity(text, quantity)
        except ValueError:
            return parse_quantity(text + _BARE.get(quantity, {}).get(self._units, ""), quantity)


class BuildDialog(QDialog):
    """Shows a build of a job to be changed, or to be the beginning of a new one; `answer` once it is accepted.

    Parameters
    ----------
    job : Job
    build : Build
    letters : int
        How many letters it makes now.
    for_whom : str
        Whom a new build is for: "the 2 letters chosen".
    """

    def __init__(self, job: Job, build: Build, letters: int, for_whom: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(f"Build: {build.name}")
        self._job, self._build = job, build
        self._values = dict(build.settings)
        self._materials = dict(build.materials)
        self.answer: ChosenBuild | None = None
        self.name = QLineEdit(build.name)
        self.name.setAccessibleName("Name of the build")
        self.kind = Choice("What sort of letter is made")
        self.kind.offer([(name.capitalize(), name) for name in KINDS], build.kind)
        self.kind.chosen.connect(self._choose_kind)
        self.meaning = words("", "muted")
        self.material_fields: dict[str, Choice] = {}
        self._material_grid = _grid()
        self.find = QLineEdit()
        self.find.setPlaceholderText("Find a setting")
        self.find.setAccessibleName("Find a setting")
        self.find.setClearButtonEnabled(True)
        self.find.textChanged.connect(self._filter)
        self.setting_fields: dict[str, SettingField] = {}
        self._setting_labels: dict[str, QLabel] = {}
        page = QWidget()
        page.setObjectName("panelBody")
        self._setting_grid = _grid(page)
        self._setting_grid.setContentsMargins(10, 8, 10, 8)
        scroll = QScrollArea()
        scroll.setWidget(page)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setMinimumHeight(150)
        scroll.setAccessibleName("Settings of the build")
        self.trouble = words("", "bad")
        self.trouble.hide()
        made = f"{letters} letter{'s' if letters != 1 else ''}"
        self.change = button("Change this build", "primary", tip=f"Every letter it makes follows: {made}")
        self.change.setDefault(True)
        self.change.clicked.connect(lambda: self._accept(is_new=False))
        self.add = button("Make it a new build", tip=f"The build stays as it is; a new one is for {for_whom}")
        self.add.clicked.connect(lambda: self._accept(is_new=True))
        cancel = button("Cancel")
        cancel.clicked.connect(self.reject)
        head = _grid()
        for row, (text, widget) in enumerate((("Name", self.name), ("Made as", self.kind))):
            head.addWidget(panel_label(text, widget), row, 0)
            head.addWidget(widget, row, 1)
        head.addWidget(self.meaning, 2, 1)
        foot = QHBoxLayout()
        foot.addWidget(words(f"It makes {made} of this job.", "muted", wrap=False), 1)
        for one in (cancel, self.add, self.change):
            foot.addWidget(one)
        box = QVBoxLayout(self)
        box.setContentsMargins(18, 16, 18, 16)
        box.setSpacing(12)
        box.addLayout(head)
        box.addWidget(words("Materials", "section"))
        box.addLayout(self._material_grid)
        row = QHBoxLayout()
        row.addWidget(words("Settings", "section"), 1)
        row.addWidget(self.find)
        box.addLayout(row)
        box.addWidget(scroll, 1)
        box.addWidget(self.trouble)
        box.addLayout(foot)
        self._fill()
        self.resize(600, 640)

    def _choose_kind(self, _name: str) -> None:
        for name, field in self.setting_fields.items():
            try:
                self._keep(name, field.value())
            except (ValueError, InvalidLength):
                continue  # what makes no sense is not carried over to another kind
        self._materials |= {role: str(field.currentData()) for role, field in self.material_fields.items()}
        self._fill()

    def _keep(self, name: str, value: float | None) -> None:
        if value is None:
            self._values.pop(name, None)
        else:
            self._values[name] = value

    def _fill(self) -> None:
        """Rows for the materials and settings of the kind chosen."""
        kind = self._kind
        self.meaning.setText(kind.meaning)
        clear(self._material_grid)
        clear(self._setting_grid)
        self.material_fields, self.setting_fields, self._setting_labels = {}, {}, {}
        known = {one.id: one.name for one in (*self._job.materials, *shipped().materials.values())}
        offers = sorted(((name, material) for material, name in known.items()), key=lambda one: one[0].casefold())
        first = next(iter(self._materials.values()), offers[0][1])
        roles = [(role, "") for role in kind.materials] + [(role, other) for role, other in kind.own_materials]
        for row, (role, stand_in) in enumerate(roles):
            field = Choice(f"Material of the {role}")
            entries = [(f"as the {stand_in}", ""), *offers] if stand_in else offers
            field.offer(entries, self._materials.get(role, "" if stand_in else first))
            self._material_grid.addWidget(panel_label(role.capitalize(), field), row, 0)
            self._material_grid.addWidget(field, row, 1)
            self.material_fields[role] = field
        for row, name in enumerate(kind.settings):
            setting = SETTINGS[name]
            field = SettingField(setting, self._job.units, self._values.get(name))
            label = panel_label(name[0].upper() + name[1:], field)
            label.setToolTip(field.toolTip())
            self._setting_grid.addWidget(label, row, 0)
            self._setting_grid.addWidget(field, row, 1)
            self.setting_fields[name], self._setting_labels[name] = field, label
        self._filter(self.find.text())

    @property
    def _kind(self) -> Kind:
        return KINDS[str(self.kind.currentData())]

    def _filter(self, text: str) -> None:
        wanted = text.strip().casefold()
        for name, field in self.setting_fields.items():
            is_shown = wanted in name.casefold() or wanted in SETTINGS[name].meaning.casefold()
            field.setVisible(is_shown)
            self._setting_labels[name].setVisible(is_shown)

    def _accept(self, *, is_new: bool) -> None:
        try:
            build = self._entered(is_new=is_new)
            # Asked of the job at once, so that what it refuses can be put right here.
            edits.add_build(self._job, build) if is_new else edits.change_build(self._job, build)
        except (AppError, InvalidLength, ValueError) as error:
            self.trouble.setText(sentence(str(error)))
            self.trouble.show()
            return
        self.answer = ChosenBuild(build, is_new)
        self.accept()

    def _entered(self, *, is_new: bool) -> Build:
        settings = []
        for name, field in self.setting_fields.items():
            try:
                value = field.value()
            except (ValueError, InvalidLength) as error:
                field.setFocus()
                raise ValueError(f"{name}: {error}") from error
            if value is not None:
                settings.append((name, value))
        roles = ((role, str(field.currentData())) for role, field in self.material_fields.items())
        name = self.name.text().strip() or self._build.name
        taken = [one.id for one in self._job.builds]
        own_id = free_id(name, taken) if is_new else self._build.id
        if is_new and name in {one.name for one in self._job.builds}:
            name = free_id(name, [one.name for one in self._job.builds])
        return Build(own_id, name, self._kind.name, tuple(one for one in roles if one[1]), tuple(settings))


def _grid(parent: QWidget | None = None) -> QGridLayout:
    grid = QGridLayout(parent) if parent is not None else QGridLayout()
    grid.setHorizontalSpacing(14)
    grid.setVerticalSpacing(6)
    grid.setColumnMinimumWidth(0, 150)
    grid.setColumnStretch(1, 1)
    grid.setAlignment(Qt.AlignmentFlag.AlignTop)
    return grid


def _shown(value: float, quantity: Quantity, units: DisplayUnits) -> str:
    if quantity is Quantity.LENGTH:
        return format_length(value, units.value)
    return format_quantity(value, quantity, units)
