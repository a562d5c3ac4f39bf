"""A place of the walk with several pages: each is a place of its own, and a row of titles goes from one to another."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QButtonGroup, QFrame, QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from app.window.drawing_view import DrawingView
from app.window.place import Place
from app.window.walk import Standing


class PagedPlace(QWidget):
    """Several places under one step of the walk; the first says how the step stands.

    Signals
    -------
    next_chosen, standing_changed, said
        As those of `Place`.
    page_changed : another page is shown
    """

    next_chosen = Signal()
    standing_changed = Signal()
    said = Signal(str)
    page_changed = Signal()

    def __init__(self, title: str, pages: Sequence[Place]) -> None:
        super().__init__()
        self.title, self.pages = title, tuple(pages)
        self._stack = QStackedWidget()
        bar = QFrame()
        bar.setObjectName("pageBar")
        row = QHBoxLayout(bar)
        row.setContentsMargins(14, 0, 14, 0)
        row.setSpacing(2)
        self._group = QButtonGroup(self)
        for index, page in enumerate(self.pages):
            head = QPushButton(page.title)
            head.setProperty("look", "page")
            head.setCheckable(True)
            head.setAutoDefault(False)
            head.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            head.setAccessibleName(f"{title}: {page.title}")
            head.setToolTip(f"{page.title} (Ctrl+Tab goes to the next)")
            self._group.addButton(head, index)
            row.addWidget(head)
            self._stack.addWidget(page)
            page.next_chosen.connect(self.next_chosen)
            page.standing_changed.connect(self.standing_changed)
            page.said.connect(self.said)
        row.addStretch(1)
        self._group.button(0).setChecked(True)
        self._group.idClicked.connect(lambda index: self.show_page(self.pages[index]))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(bar)
        column.addWidget(self._stack, 1)

    @property
    def page(self) -> Place:
        """The page one is at."""
        return self.pages[self._stack.currentIndex()]

    @property
    def view(self) -> DrawingView:
        """The drawing of the page one is at."""
        return self.page.view

    def show_page(self, page: Place) -> None:
        """Go to a page."""
        index = self.pages.index(page)
        self._stack.setCurrentIndex(index)
        self._group.button(index).setChecked(True)
        self.page_changed.emit()

    def step_page(self, by: int) -> None:
        """Go some pages on, round at the ends."""
        self.show_page(self.pages[(self._stack.currentIndex() + by) % len(self.pages)])

    def standing(self) -> Standing:
        """How the step stands."""
        return self.pages[0].standing()

    def refresh(self) -> None:
        """Show what there is now."""
        for page in self.pages:
            page.refresh()
