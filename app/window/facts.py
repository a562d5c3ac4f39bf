"""Small pieces the side panels are put together from: headings, rules, facts, a coloured legend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLayout,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.fabrication.part import Role
from app.window.fields import CheckBox
from app.window.picture import Fact
from app.window.theme import Theme


def words(text: str = "", look: str = "", *, wrap: bool = True) -> QLabel:
    """A label; `look` is one of the style sheet's ("title", "heading", "section", "muted", "bad", "warn", "good")."""
    label = QLabel(text)
    label.setWordWrap(wrap)
    label.setTextFormat(Qt.TextFormat.PlainText)
    if look:
        label.setProperty("look", look)
    return label


def set_look(widget: QWidget, look: str) -> None:
    """Change a widget's look."""
    if widget.property("look") != look:
        widget.setProperty("look", look)
        widget.style().unpolish(widget)
        widget.style().polish(widget)


def button(text: str, look: str = "", *, tip: str = "", name: str = "") -> QPushButton:
    """A push button with its tool tip and accessible name."""
    made = QPushButton(text)
    if look:
        made.setProperty("look", look)
    made.setAutoDefault(False)
    made.setToolTip(tip)
    made.setAccessibleName(name or text)
    return made


def rule() -> QFrame:
    """A dividing line."""
    line = QFrame()
    line.setObjectName("rule")
    return line


class FactList(QWidget):
    """What is known, as pairs of what and value; `wide_keys` where the first is long and the second short."""

    def __init__(self, *, wide_keys: bool = False, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._wide_keys = wide_keys
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(12)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(0 if wide_keys else 1, 1)
        self._facts: tuple[Fact, ...] = ()

    @property
    def facts(self) -> tuple[Fact, ...]:
        """What is shown."""
        return self._facts

    def show_facts(self, facts: Sequence[Fact]) -> None:
        """Show these and no others."""
        facts = tuple(facts)
        if facts == self._facts:
            return
        self._facts = facts
        clear(self._grid)
        for row, (what, value) in enumerate(facts):
            key = words(what, "key", wrap=self._wide_keys)
            key.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
            shown = words(value, wrap=not self._wide_keys)
            shown.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            shown.setAccessibleName(f"{what}: {value}")
            self._grid.addWidget(key, row, 0)
            self._grid.addWidget(shown, row, 1)


def clear(layout: QLayout) -> None:
    """Take every widget out of a layout and let go of it."""
    while (item := layout.takeAt(0)) is not None:
        widget = item.widget()
        if widget is not None:
            widget.setParent(None)
            widget.deleteLater()


class Section(QWidget):
    """A heading with something under it."""

    def __init__(self, title: str, *contents: QWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.box = QVBoxLayout(self)
        self.box.setContentsMargins(0, 0, 0, 0)
        self.box.setSpacing(7)
        self.heading = words(title, "section")
        self.box.addWidget(self.heading)
        for widget in contents:
            self.box.addWidget(widget)

    def add_beside(self, widget: QWidget) -> None:
        """Put something at the end of the heading's line."""
        self.box.removeWidget(self.heading)
        row = QHBoxLayout()
        row.addWidget(self.heading, 1)
        row.addWidget(widget)
        self.box.insertLayout(0, row)


class ProgressBar(QProgressBar):
    """How far something is."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextVisible(False)
        self.setAccessibleName(name)

    def show_share(self, share: float | None) -> None:
        """Show a share from 0 to 1, or that nobody knows."""
        self.setRange(0, 0 if share is None else 1000)
        if share is not None:
            self.setValue(round(share * 1000))


class ProgressSection(Section):
    """What is being done, and how far it is."""

    def __init__(self, title: str, name: str, parent: QWidget | None = None) -> None:
        super().__init__(title, parent=parent)
        self.stage = words("", "muted")
        self.bar = ProgressBar(name)
        self.box.addWidget(self.stage)
        self.box.addWidget(self.bar)

    def show_share(self, share: float | None, stage: str) -> None:
        """Show how far it is and what is being done."""
        self.bar.show_share(share)
        self.stage.setText(stage)


class Swatch(QWidget):
    """A patch of a role's colour."""

    def __init__(self, theme: Theme, role: Role, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._role = theme, role
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        theme.changed.connect(self.update)

    def sizeHint(self) -> QSize:
        """A small square."""
        return QSize(16, 16)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Fill and edge as on the drawing."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(self._theme.colours.role_fill(self._role))
        painter.setPen(QPen(QColor(self._theme.colours.role_edge(self._role)), 1.2))
        painter.drawRoundedRect(2, 2, 12, 12, 2, 2)
        painter.end()


class LegendRow(QWidget):
    """A role with its colour, how many there are and, where wanted, a box to show or hide them."""

    def __init__(self, theme: Theme, role: Role, *, has_box: bool = True, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(6)
        name = role.value.capitalize()
        self.box = CheckBox(name)
        self.box.setChecked(True)
        self.box.setToolTip(f"Show or hide every {role.value}")
        self.amount = words("", "muted", wrap=False)
        grid.addWidget(Swatch(theme, role), 0, 0)
        grid.addWidget(self.box if has_box else words(name, wrap=False), 0, 1)
        grid.addWidget(self.amount, 0, 2, Qt.AlignmentFlag.AlignRight)
        grid.setColumnStretch(1, 1)

    def show_amount(self, pieces: int) -> None:
        """Say how many there are; hidden when none."""
        self.amount.setText(str(pieces))
        self.setVisible(pieces > 0)


class Legend(QWidget):
    """A row for each role, of those there are."""

    def __init__(self, theme: Theme, *, has_boxes: bool = True, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows = {role: LegendRow(theme, role, has_box=has_boxes) for role in Role}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 4)
        column.setSpacing(2)
        for row in self.rows.values():
            column.addWidget(row)

    def show_amounts(self, amounts: Mapping[Role, int]) -> None:
        """Say how many there are of each."""
        for role, row in self.rows.items():
            row.show_amount(amounts.get(role, 0))
