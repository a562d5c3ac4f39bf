"""Words in a font: what they say, the font file, and how high a capital is made."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from app.errors import AppError
from app.job.document import DisplayUnits
from app.window.artwork_files import FileKind, kind_of_file
from app.window.facts import button, words
from app.window.fields import LengthField
from app.window.place import panel_label
from app.window.wording import sentence
from geometry.errors import InvalidLength
from geometry.units import format_length, parse_length

FONT_FILTER: Final = "Fonts (*.ttf *.otf *.ttc *.woff *.woff2);;All files (*)"
USUAL_CAPITAL: Final = 304.8
"""mm; 12 in, to begin with."""


@dataclass(frozen=True, slots=True)
class SetWords:
    """What the dialog was left with.

    Fields
    ------
    words : str
    font : str
        Absolute path.
    capital : float
        Height of a capital, mm.
    """

    words: str
    font: str
    capital: float


class WordsDialog(QDialog):
    """Asks for words, a font file and a capital height; `answer` holds them once it is accepted."""

    def __init__(
        self, title: str, units: DisplayUnits, *, font: str = "", folder: str = "", parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self._units, self._folder = units, folder
        self.answer: SetWords | None = None
        self.words = QPlainTextEdit()
        self.words.setAccessibleName("Words")
        self.words.setPlaceholderText("What the sign says; a new line begins a new line of letters")
        self.words.setTabChangesFocus(True)
        self.words.setFixedHeight(round(QFontMetricsF(self.words.font()).lineSpacing() * 3 + 18))
        self.font_file = QLineEdit(font)
        self.font_file.setAccessibleName("Font file")
        self.font_file.setPlaceholderText("TTF, OTF, TTC or WOFF file")
        self.browse = button("Choose…", tip="Choose a font file", name="Choose a font file")
        self.browse.clicked.connect(self._browse)
        self.capital = LengthField("Capital height")
        self.capital.setText(format_length(USUAL_CAPITAL, units.value))
        self.capital.textEdited.connect(lambda _text: self._say(""))
        self.trouble = words("", "bad")
        self.accept_button = button("Set the words", "primary")
        self.accept_button.setDefault(True)
        self.accept_button.clicked.connect(self.accept)
        cancel = button("Cancel")
        cancel.clicked.connect(self.reject)
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(9)
        grid.setColumnStretch(1, 1)
        grid.addWidget(panel_label("Words", self.words), 0, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(self.words, 0, 1, 1, 2)
        grid.addWidget(panel_label("Font file", self.font_file), 1, 0)
        grid.addWidget(self.font_file, 1, 1)
        grid.addWidget(self.browse, 1, 2)
        grid.addWidget(panel_label("Capital height", self.capital), 2, 0)
        grid.addWidget(self.capital, 2, 1, 1, 2)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(cancel)
        row.addWidget(self.accept_button)
        box = QVBoxLayout(self)
        box.setContentsMargins(18, 16, 18, 16)
        box.setSpacing(12)
        box.addLayout(grid)
        box.addWidget(self.trouble)
        box.addStretch(1)
        box.addLayout(row)
        self._say("")
        self.words.setFocus()

    def sizeHint(self) -> QSize:
        """Wide enough for a path."""
        return QSize(520, super().sizeHint().height())

    def accept(self) -> None:
        """Take what was entered, or say what is missing."""
        try:
            self.answer = self._entered()
        except (AppError, InvalidLength) as error:
            self._say(str(error))
            return
        if self.answer is not None:
            super().accept()

    def _entered(self) -> SetWords | None:
        text = "\n".join(line.rstrip() for line in self.words.toPlainText().strip("\n").splitlines())
        if not text.strip():
            self._say("there are no words yet; type what the sign says")
            self.words.setFocus()
            return None
        font = self.font_file.text().strip()
        if not font:
            self._say("no font file is chosen yet; choose a TTF or OTF file")
            return None
        if kind_of_file(font) is not FileKind.FONT:
            self._say(f"{os.path.basename(font)} is no font; choose a TTF, OTF, TTC or WOFF file")
            return None
        capital = parse_length(self.capital.text(), default_unit=self._units.value)
        if capital <= 0:
            self._say(f"capital height of {format_length(capital, self._units.value)} makes no sense; give more than 0")
            return None
        return SetWords(text, os.path.abspath(font), capital)

    def _browse(self) -> None:
        start = os.path.dirname(self.font_file.text()) or self._folder
        path, _filter = QFileDialog.getOpenFileName(self, "Choose a font file", start, FONT_FILTER)
        if path:
            self.font_file.setText(path)
            self._say("")

    def _say(self, text: str) -> None:
        self.trouble.setText(sentence(text))
        self.trouble.setVisible(bool(text))
        if self.isVisible():
            self.layout().activate()
            self.resize(self.width(), max(self.height(), self.layout().totalHeightForWidth(self.width())))
