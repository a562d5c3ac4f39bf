"""Words in a font: what they say, the font file, how high a capital is made, and how the lines are set."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
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
from app.job.document import Align, DisplayUnits, Text
from app.window.artwork_files import FileKind, kind_of_file
from app.window.facts import button, words
from app.window.fields import Choice, LengthField, Multiple, WholeNumber
from app.window.forms import panel_label
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
    text : Text
        Its font as an absolute path.
    capital : float or None
        Height of a capital, mm; None where it was not asked for.
    """

    text: Text
    capital: float | None


class WordsDialog(QDialog):
    """Asks for words and how they are set; `answer` holds them once it is accepted.

    Parameters
    ----------
    fonts : list of (name, path)
        Fonts to choose from without looking for a file.
    text : Text, optional
        Words to change, with the font as an absolute path.
    capital : float or None
        Height of a capital to begin with, mm; None where the size is not asked for.
    """

    def __init__(
        self,
        title: str,
        units: DisplayUnits,
        *,
        font: str = "",
        folder: str = "",
        fonts: list[tuple[str, str]] | None = None,
        text: Text | None = None,
        capital: float | None = USUAL_CAPITAL,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self._units, self._folder = units, folder
        self._text = text if text is not None else Text("", font)
        self.answer: SetWords | None = None
        self.words = QPlainTextEdit(self._text.words)
        self.words.setAccessibleName("Words")
        self.words.setPlaceholderText("What the sign says; a new line begins a new line of letters")
        self.words.setTabChangesFocus(True)
        self.words.setFixedHeight(round(QFontMetricsF(self.words.font()).lineSpacing() * 3 + 18))
        self.at_hand = Choice("Fonts at hand")
        self.at_hand.setToolTip("Fonts of this job and those that come with the sample jobs")
        self.at_hand.offer([("choose one at hand", ""), *(fonts or [])], "")
        self.at_hand.chosen.connect(lambda path: self.font_file.setText(path) if path else None)
        self.font_file = QLineEdit(self._text.font)
        self.font_file.setAccessibleName("Font file")
        self.font_file.setPlaceholderText("TTF, OTF, TTC or WOFF file")
        self.browse = button("Choose…", tip="Choose a font file", name="Choose a font file")
        self.browse.clicked.connect(self._browse)
        self.capital = LengthField("Capital height")
        self.capital.setText(format_length(capital or USUAL_CAPITAL, units.value))
        self.capital.textEdited.connect(lambda _text: self._say(""))
        self.align = Choice("How the lines stand to each other")
        self.align.offer([("left", Align.LEFT), ("in the middle", Align.CENTRE), ("right", Align.RIGHT)], Align.LEFT)
        self.align.setCurrentIndex(list(Align).index(self._text.align))
        self.spacing = WholeNumber("Extra space between letters", -500, 2000)
        self.spacing.setSuffix(" ‰")
        self.spacing.setToolTip("Extra space between letters, in thousandths of the font's size")
        self.spacing.setValue(round(self._text.tracking))
        self.lines = Multiple("Space from line to line", 0.2, 5.0)
        self.lines.setToolTip("Space from line to line; 1 is the font's own")
        self.lines.setValue(self._text.line_spacing)
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
        grid.addWidget(panel_label("Font", self.at_hand), 1, 0)
        grid.addWidget(self.at_hand, 1, 1, 1, 2)
        grid.addWidget(panel_label("Font file", self.font_file), 2, 0)
        grid.addWidget(self.font_file, 2, 1)
        grid.addWidget(self.browse, 2, 2)
        capital_label = panel_label("Capital height", self.capital)
        grid.addWidget(capital_label, 3, 0)
        grid.addWidget(self.capital, 3, 1, 1, 2)
        for widget in (capital_label, self.capital):
            widget.setVisible(capital is not None)
        grid.addWidget(panel_label("Letter space", self.spacing), 4, 0)
        line = QHBoxLayout()
        line.setSpacing(10)
        line.addWidget(self.spacing, 1)
        line.addWidget(panel_label("Line space", self.lines))
        line.addWidget(self.lines, 1)
        line.addWidget(panel_label("Lines", self.align))
        line.addWidget(self.align, 1)
        grid.addLayout(line, 4, 1, 1, 2)
        self._asks_capital = capital is not None
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
        return QSize(600, super().sizeHint().height())

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
        capital = None
        if self._asks_capital:
            capital = parse_length(self.capital.text(), default_unit=self._units.value)
            if capital <= 0:
                shown = format_length(capital, self._units.value)
                self._say(f"capital height of {shown} makes no sense; give more than 0")
                return None
        same_font = os.path.abspath(font) == os.path.abspath(self._text.font) if self._text.font else False
        return SetWords(
            replace(
                self._text,
                words=text,
                font=os.path.abspath(font),
                tracking=float(self.spacing.value()),
                line_spacing=self.lines.value(),
                align=Align(self.align.currentData()),
                axes=self._text.axes if same_font else (),
            ),
            capital,
        )

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
