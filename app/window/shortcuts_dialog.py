"""The page of shortcuts, and what this program is."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

from PySide6.QtWidgets import QDialog, QGridLayout, QScrollArea, QVBoxLayout, QWidget

from app.window.actions import shortcut_rows
from app.window.facts import button, words


class ShortcutsDialog(QDialog):
    """Every shortcut, by menu."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keyboard shortcuts")
        page = QWidget()
        page.setObjectName("panelBody")
        grid = QGridLayout(page)
        grid.setContentsMargins(20, 16, 20, 16)
        grid.setHorizontalSpacing(24)
        grid.setVerticalSpacing(5)
        grid.setColumnStretch(0, 1)
        menu_before, row = "", 0
        for menu, what, keys in shortcut_rows():
            if menu != menu_before:
                heading = words(menu, "section")
                heading.setContentsMargins(0, 10 if row else 0, 0, 2)
                grid.addWidget(heading, row, 0, 1, 2)
                menu_before = menu
                row += 1
            grid.addWidget(words(what, wrap=False), row, 0)
            grid.addWidget(words(keys, "muted", wrap=False), row, 1)
            row += 1
        scroll = QScrollArea()
        scroll.setWidget(page)
        scroll.setAccessibleName("Every shortcut")
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setMinimumWidth(page.sizeHint().width() + scroll.verticalScrollBar().sizeHint().width())
        self.resize(scroll.minimumWidth(), 600)
        close = button("Close", "primary")
        close.clicked.connect(self.close)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 14)
        box.addWidget(scroll, 1)
        foot = QVBoxLayout()
        foot.setContentsMargins(20, 6, 20, 0)
        foot.addWidget(close)
        box.addLayout(foot)


class AboutDialog(QDialog):
    """What this is, which version, and what it does not do."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("About Letterbed")
        self.resize(520, 430)
        box = QVBoxLayout(self)
        box.setContentsMargins(24, 20, 24, 18)
        box.setSpacing(10)
        box.addWidget(words("Letterbed", "title"))
        try:
            number = version("letterbed")
        except PackageNotFoundError:
            number = "not installed as a package"
        box.addWidget(words(f"Version {number}. MIT licence.", "muted"))
        box.addWidget(words("From sign artwork to cut aluminium and acrylic: parts, sheets, cut files and paperwork."))
        from app.output.words import CAUTION

        box.addWidget(words(CAUTION, "muted"))
        box.addStretch(1)
        close = button("Close", "primary")
        close.clicked.connect(self.close)
        box.addWidget(close)
