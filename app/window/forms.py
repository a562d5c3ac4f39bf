"""Fields with their labels, in rows."""

from __future__ import annotations

from PySide6.QtWidgets import QGridLayout, QLabel, QWidget

from app.window.facts import words


def panel_label(text: str, widget: QWidget) -> QLabel:
    """A label that belongs to a field."""
    label = words(text, "key", wrap=False)
    label.setBuddy(widget)
    return label


def field_grid(*fields: tuple[str, QWidget], columns: int = 1) -> QWidget:
    """Fields with their labels before them, row after row; the fields share what room there is."""
    made = QWidget()
    grid = QGridLayout(made)
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(10)
    grid.setVerticalSpacing(7)
    for at, (label, field) in enumerate(fields):
        row, column = divmod(at, columns)
        grid.addWidget(panel_label(label, field), row, 2 * column)
        grid.addWidget(field, row, 2 * column + 1)
        grid.setColumnStretch(2 * column + 1, 1)
    return made
