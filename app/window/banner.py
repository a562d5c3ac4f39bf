"""What the window has to say, in one sentence above the place one is at; never in the way."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QWidget

from app.window.facts import button, words
from app.window.findings_list import severity_icon
from app.window.theme import Theme
from app.window.wording import sentence
from geometry.findings import Severity


class Banner(QFrame):
    """One sentence, perhaps with one thing to do about it, until it is closed or replaced."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("banner")
        self._theme = theme
        self._severity = Severity.NOTE
        self._act: Callable[[], object] | None = None
        self._sign = QLabel()
        self.message = words()
        self.message.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.action = button("", name="Act on the message")
        self.close_button = button("Close", "plain", tip="Close this message")
        row = QHBoxLayout(self)
        row.setContentsMargins(16, 8, 10, 8)
        row.setSpacing(10)
        row.addWidget(self._sign)
        row.addWidget(self.message, 1)
        row.addWidget(self.action)
        row.addWidget(self.close_button)
        self.close_button.clicked.connect(self.clear)
        self.action.clicked.connect(self._do)
        theme.changed.connect(self._paint_sign)
        self.hide()

    def say(
        self,
        text: str,
        severity: Severity = Severity.NOTE,
        *,
        action: str = "",
        act: Callable[[], object] | None = None,
    ) -> None:
        """Show a sentence, with a button for `act` when it is given."""
        self._severity, self._act = severity, act
        self.message.setText(sentence(text))
        self.setAccessibleName(f"{severity.value}: {text}")
        self.action.setText(action)
        self.action.setAccessibleName(action)
        self.action.setVisible(act is not None)
        self._paint_sign()
        self.show()

    def clear(self) -> None:
        """Say nothing."""
        self._act = None
        self.message.setText("")
        self.hide()

    def _do(self) -> None:
        act = self._act
        self.clear()
        if act is not None:
            act()

    def _paint_sign(self) -> None:
        pixmap: QPixmap = severity_icon(self._theme, self._severity).pixmap(16, 16)
        self._sign.setPixmap(pixmap)
