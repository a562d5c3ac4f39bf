"""A place of the walk with several pages: each is a place of its own, and a row of titles goes from one to another."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QFrame, QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from app.window.drawing_view import DrawingView
from app.window.facts import button
from app.window.place import Place
from app.window.walk import Standing


class TitleRow(QFrame):
    """A row of titles, one of which is chosen.

    Signals
    -------
    chosen : int
        Index of the title a person chose.
    """

    chosen = Signal(int)

    def __init__(self, of: str, titles: Sequence[str], look: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("titleRow")
        self.line = QHBoxLayout(self)
        self.line.setSpacing(2)
        self._group = QButtonGroup(self)
        for index, title in enumerate(titles):
            head = button(title, look, name=f"{of}: {title}")
            head.setCheckable(True)
            self._group.addButton(head, index)
            self.line.addWidget(head)
        self.line.addStretch(1)
        self._group.button(0).setChecked(True)
        self._group.idClicked.connect(self.chosen)

    @property
    def heads(self) -> list[QAbstractButton]:
        """The buttons, in their order."""
        return self._group.buttons()

    def show_chosen(self, index: int) -> None:
        """Show that a title is chosen."""
        self._group.button(index).setChecked(True)


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
        self._titles = TitleRow(title, [page.title for page in self.pages], "page")
        self._titles.line.setContentsMargins(14, 0, 14, 0)
        self._titles.chosen.connect(lambda index: self.show_page(self.pages[index]))
        for page, head in zip(self.pages, self._titles.heads, strict=True):
            head.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            head.setToolTip(f"{page.title} (Ctrl+Tab goes to the next)")
            self._stack.addWidget(page)
            page.next_chosen.connect(self.next_chosen)
            page.standing_changed.connect(self.standing_changed)
            page.said.connect(self.said)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self._titles)
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
        self._titles.show_chosen(index)
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
