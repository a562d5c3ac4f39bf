"""For errors that are the program's own: what happened, with the trace to pass on."""

from __future__ import annotations

import traceback

from PySide6.QtGui import QFontDatabase, QGuiApplication
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPlainTextEdit, QVBoxLayout, QWidget

from app.window.facts import button, words


class FaultDialog(QDialog):
    """Shown beside the window, not in its way; your job is as it was."""

    def __init__(self, text: str, trace: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("A fault of the program")
        self.setModal(False)
        self.resize(660, 380)
        self.trace = QPlainTextEdit(trace)
        self.trace.setReadOnly(True)
        self.trace.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        self.trace.setAccessibleName("Trace")
        copy = button("Copy trace", tip="Copy the text above, to pass it on")
        copy.clicked.connect(lambda: QGuiApplication.clipboard().setText(self.trace.toPlainText()))
        close = button("Close", "primary")
        close.clicked.connect(self.close)
        row = QHBoxLayout()
        row.addWidget(copy)
        row.addStretch(1)
        row.addWidget(close)
        box = QVBoxLayout(self)
        box.setContentsMargins(18, 16, 18, 16)
        box.setSpacing(10)
        box.addWidget(words(text, "heading"))
        box.addWidget(
            words("Your job is as it was. The lines below tell where it happened; please pass them on.", "muted")
        )
        box.addWidget(self.trace, 1)
        box.addLayout(row)


def trace_of(error: BaseException) -> str:
    """The trace of an exception as text."""
    return "".join(traceback.format_exception(error))
