"""How the window looks: two sets of colours, the palette and style sheet made from them, and who decides which is used.

The window itself is grey and ink with one accent; strong colour is kept for the drawings, where it means something.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QApplication

from app.fabrication.part import Role
from app.window.style_sheet import style_sheet
from geometry.findings import Severity

ROLE_COLOURS: Final[dict[Role, str]] = {
    Role.BACKER: "#56B4E9",  # sky blue
    Role.FACE: "#F0E442",  # yellow
    Role.RETAINER: "#D55E00",  # vermillion
    Role.COUNTER_RETAINER: "#E69F00",  # orange
    Role.SPLICE_PLATE: "#009E73",  # bluish green
    Role.FILM: "#CC79A7",  # reddish purple
    Role.PANEL: "#0072B2",  # blue
}
"""The palette of Okabe and Ito (Color Universal Design, 2008), chosen to be told apart with any colour vision."""


@dataclass(frozen=True, slots=True)
class Colours:
    """One set of colours, each as "#rrggbb".

    Fields
    ------
    is_dark : bool
    window, panel, field : behind everything; behind facts and lists; behind text that can be typed
    bench, grid, sheet : behind a drawing; its grid; bare stock
    ink, muted, line : text; text of less weight; dividing lines
    accent, on_accent, accent_wash : what is selected, in focus or next to do; text on it; a light tint of it
    letter : fill of artwork
    note, warning, error, good : severities, and what is done
    """

    is_dark: bool
    window: str
    panel: str
    field: str
    bench: str
    grid: str
    sheet: str
    ink: str
    muted: str
    line: str
    accent: str
    on_accent: str
    accent_wash: str
    letter: str
    note: str
    warning: str
    error: str
    good: str

    def severity(self, severity: Severity) -> str:
        """Colour of a finding."""
        return {Severity.NOTE: self.note, Severity.WARNING: self.warning, Severity.ERROR: self.error}[severity]

    def role_fill(self, role: Role) -> QColor:
        """Fill of a part."""
        colour = QColor(ROLE_COLOURS[role])
        return colour.darker(108) if self.is_dark else colour

    def role_edge(self, role: Role) -> QColor:
        """Edge of a part: its fill, darkened."""
        colour = QColor(ROLE_COLOURS[role])
        return colour.darker(185)


LIGHT: Final = Colours(
    is_dark=False,
    window="#ECEBE6",
    panel="#F8F7F4",
    field="#FFFFFF",
    bench="#E3E2DC",
    grid="#D7D6CF",
    sheet="#FFFFFF",
    ink="#1D2427",
    muted="#5A6468",
    line="#CFCDC5",
    accent="#00667A",
    on_accent="#FFFFFF",
    accent_wash="#D6E6E8",
    letter="#2B3437",
    note="#4A6A80",
    warning="#8F5600",
    error="#AE2A20",
    good="#20704A",
)

DARK: Final = Colours(
    is_dark=True,
    window="#191D1F",
    panel="#22282A",
    field="#181C1E",
    bench="#121517",
    grid="#1D2224",
    sheet="#2B3235",
    ink="#E8EBEA",
    muted="#9DA8AB",
    line="#384144",
    accent="#58BED0",
    on_accent="#05262D",
    accent_wash="#1F3D44",
    letter="#D9DEDD",
    note="#8FB6D0",
    warning="#EDB25A",
    error="#FF8F84",
    good="#70CD98",
)


class ThemeChoice(StrEnum):
    """What the user asked for."""

    SYSTEM = "system"
    LIGHT = "light"
    DARK = "dark"


class Theme(QObject):
    """The colours in use.

    Signals
    -------
    changed : the colours are different now; drawings repaint
    """

    changed = Signal()

    def __init__(self, app: QApplication, choice: ThemeChoice = ThemeChoice.SYSTEM) -> None:
        super().__init__()
        self._app = app
        self._choice = choice
        self.colours = LIGHT
        app.setStyle("Fusion")
        app.styleHints().colorSchemeChanged.connect(self._apply)
        self._apply()

    @property
    def choice(self) -> ThemeChoice:
        """What the user asked for."""
        return self._choice

    def choose(self, choice: ThemeChoice) -> None:
        """Change what is asked for."""
        self._choice = choice
        self._apply()

    def _apply(self) -> None:
        system_is_dark = self._app.styleHints().colorScheme() == Qt.ColorScheme.Dark
        wants_dark = self._choice is ThemeChoice.DARK or (self._choice is ThemeChoice.SYSTEM and system_is_dark)
        self.colours = DARK if wants_dark else LIGHT
        self._app.setPalette(palette(self.colours))
        self._app.setStyleSheet(style_sheet(self.colours))
        self.changed.emit()


def palette(colours: Colours) -> QPalette:
    """Qt's palette for a set of colours."""
    result = QPalette()
    group = QPalette.ColorRole
    for role, colour in (
        (group.Window, colours.window),
        (group.Base, colours.field),
        (group.AlternateBase, colours.panel),
        (group.Button, colours.panel),
        (group.WindowText, colours.ink),
        (group.Text, colours.ink),
        (group.ButtonText, colours.ink),
        (group.ToolTipBase, colours.panel),
        (group.ToolTipText, colours.ink),
        (group.PlaceholderText, colours.muted),
        (group.Highlight, colours.accent),
        (group.HighlightedText, colours.on_accent),
        (group.Link, colours.accent),
        (group.Mid, colours.line),
    ):
        result.setColor(role, QColor(colour))
    for role in (group.Text, group.WindowText, group.ButtonText):
        faded = QColor(colours.muted)
        faded.setAlpha(150)
        result.setColor(QPalette.ColorGroup.Disabled, role, faded)
    return result
