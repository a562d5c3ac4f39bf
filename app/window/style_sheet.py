"""The style sheet, written once for both sets of colours."""

from __future__ import annotations

from string import Template
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.window.theme import Colours

_SHEET = Template("""
QToolTip { background: $panel; color: $ink; border: 1px solid $line; padding: 4px 6px; }
QMenuBar { background: $window; padding: 2px 6px; }
QMenuBar::item { padding: 4px 9px; border-radius: 4px; background: transparent; }
QMenuBar::item:selected { background: $accent_wash; }
QMenu { background: $panel; border: 1px solid $line; padding: 4px; }
QMenu::item { padding: 5px 26px 5px 22px; border-radius: 4px; }
QMenu::item:selected { background: $accent_wash; color: $ink; }
QMenu::item:disabled { color: $muted; }
QMenu::separator { height: 1px; background: $line; margin: 4px 6px; }

QPushButton { background: $field; border: 1px solid $line; border-radius: 5px; padding: 6px 12px; }
QPushButton:hover { border-color: $muted; }
QPushButton:focus { border: 2px solid $accent; padding: 5px 11px; }
QPushButton:pressed { background: $accent_wash; }
QPushButton:disabled { color: $muted; background: transparent; }
QPushButton[look="primary"] { background: $accent; color: $on_accent; border: 1px solid $accent; font-weight: 600;
    padding: 8px 14px; }
QPushButton[look="primary"]:hover { background: $accent_hover; }
QPushButton[look="primary"]:focus { border: 2px solid $ink; padding: 7px 13px; }
QPushButton[look="primary"]:disabled { background: $line; color: $muted; border-color: $line; }
QPushButton[look="plain"] { background: transparent; border: 1px solid transparent; padding: 3px 7px; color: $ink; }
QPushButton[look="plain"]:hover { background: $accent_wash; }
QPushButton[look="plain"]:focus { border: 1px solid $accent; }
QPushButton[look="plain"]:checked { background: $accent_wash; color: $accent; }
QPushButton[look="plain"]:disabled { color: $line; }
QFrame#titleRow { background: $panel; border: none; border-bottom: 1px solid $line; }
QPushButton[look="page"] { background: transparent; border: none; border-bottom: 2px solid transparent;
    border-radius: 0; padding: 7px 10px 6px 10px; color: $muted; }
QPushButton[look="page"]:hover { color: $ink; }
QPushButton[look="page"]:checked { color: $accent; border-bottom: 2px solid $accent; }
QPushButton[look="page"]:focus { background: $accent_wash; border: none; border-bottom: 2px solid $accent;
    padding: 7px 10px 6px 10px; }
QPushButton[look="card"] { background: $field; text-align: left; padding: 10px 14px; border-radius: 6px; }
QPushButton[look="card"]:hover { background: $accent_wash; border-color: $accent; }

QLineEdit, QSpinBox, QDoubleSpinBox, QComboBox { background: $field; border: 1px solid $line; border-radius: 4px;
    padding: 4px 6px; min-height: 18px; min-width: 40px; selection-background-color: $accent;
    selection-color: $on_accent; }
QLineEdit:focus, QSpinBox:focus, QDoubleSpinBox:focus, QComboBox:focus { border: 2px solid $accent; padding: 3px 5px; }
QLineEdit[wrong="true"] { border: 2px solid $error; padding: 3px 5px; }
QLineEdit:disabled, QSpinBox:disabled, QDoubleSpinBox:disabled, QComboBox:disabled { background: transparent;
    color: $muted; }
QAbstractSpinBox QLineEdit { background: transparent; border: none; padding: 0 0 0 4px; min-height: 0; min-width: 0; }
QComboBox::drop-down { border: none; width: 20px; }
QComboBox::down-arrow { image: none; width: 0; height: 0; }
QComboBox QAbstractItemView { background: $panel; border: 1px solid $line; selection-background-color: $accent_wash;
    selection-color: $ink; outline: none; }

QFrame#panel { background: $panel; border: none; border-left: 1px solid $line; }
QFrame#sheetList { background: $panel; border: none; border-right: 1px solid $line; }
QFrame#footer { background: $panel; border: none; border-top: 1px solid $line; }
QFrame#strip { background: $panel; border: none; border-top: 1px solid $line; }
QFrame#rule { background: $line; border: none; max-height: 1px; min-height: 1px; }
QFrame#banner { background: $panel; border: none; border-bottom: 1px solid $line; }
QFrame#alarm { background: $field; border: 1px solid $error; border-left: 5px solid $error; border-radius: 5px; }
QFrame#card { background: $field; border: 1px solid $line; border-radius: 6px; }
QScrollArea, QScrollArea > QWidget > QWidget#panelBody { background: transparent; border: none; }
QGraphicsView { border: none; background: $bench; }
QGraphicsView:focus { border: none; }

QLabel[look="title"] { font-size: 23px; font-weight: 600; }
QLabel[look="heading"] { font-weight: 600; color: $ink; font-size: 15px; }
QLabel[look="section"] { font-weight: 600; color: $ink; }
QLabel[look="muted"] { color: $muted; }
QLabel[look="key"] { color: $muted; }
QLabel[look="figure"] { font-size: 22px; font-weight: 600; }
QLabel[look="bad"] { color: $error; font-weight: 600; }
QLabel[look="warn"] { color: $warning; font-weight: 600; }
QLabel[look="good"] { color: $good; }

QListView, QListWidget, QTableWidget, QPlainTextEdit { background: $field; border: 1px solid $line; border-radius: 5px;
    outline: none; }
QListView:focus, QListWidget:focus, QTableWidget:focus, QPlainTextEdit:focus { border: 1px solid $accent; }
QListWidget#plain { background: transparent; border: none; }
QListWidget::item { padding: 5px 6px; border-radius: 4px; color: $ink; }
QListWidget::item:selected { background: $accent_wash; color: $ink; }
QListWidget::item:hover { background: $accent_wash; }

QHeaderView { background: $panel; border: none; }
QHeaderView::section { background: $panel; color: $muted; border: none; border-bottom: 1px solid $line;
    padding: 4px 4px; }
QTableWidget::item { padding: 0 4px; }
QTableWidget::item:selected { background: $accent_wash; color: $ink; }

QSpinBox::up-button, QDoubleSpinBox::up-button, QSpinBox::down-button, QDoubleSpinBox::down-button {
    background: transparent; border: none; width: 20px; }
QSpinBox::up-arrow, QDoubleSpinBox::up-arrow, QSpinBox::down-arrow, QDoubleSpinBox::down-arrow { image: none;
    width: 0; height: 0; }
QCheckBox { spacing: 7px; padding: 2px; }
QListView::indicator:unchecked { background: $field; border: 1px solid $muted; border-radius: 3px; }
QProgressBar { background: $line; border: none; border-radius: 3px; max-height: 6px; min-height: 6px; }
QProgressBar::chunk { background: $accent; border-radius: 3px; }

QScrollBar:vertical { background: transparent; width: 11px; margin: 0; }
QScrollBar:horizontal { background: transparent; height: 11px; margin: 0; }
QScrollBar::handle { background: $line; border-radius: 4px; margin: 2px; min-height: 28px; min-width: 28px; }
QScrollBar::handle:hover { background: $muted; }
QScrollBar::add-line, QScrollBar::sub-line, QScrollBar::add-page, QScrollBar::sub-page { background: none;
    border: none; width: 0; height: 0; }
QSplitter::handle { background: $line; }
QSplitter::handle:horizontal { width: 1px; }
""")


def style_sheet(colours: Colours) -> str:
    """The style sheet in these colours."""
    from PySide6.QtGui import QColor

    fields = {name: getattr(colours, name) for name in colours.__slots__}
    accent = QColor(colours.accent)
    fields["accent_hover"] = (accent.lighter(112) if colours.is_dark else accent.darker(118)).name()
    return _SHEET.substitute(fields)
