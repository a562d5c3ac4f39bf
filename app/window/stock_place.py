"""Third place: what the parts are cut from: the job's sizes, how they compare, the rack, the stock book."""

from __future__ import annotations

from app.window.book_place import BookPlace
from app.window.compare_place import ComparePlace
from app.window.pages import PagedPlace
from app.window.rack_place import RackPlace
from app.window.session import Session
from app.window.settings import WindowSettings
from app.window.sizes_place import SizesPlace
from app.window.theme import Theme


class StockPlace(PagedPlace):
    """Its pages, by name."""

    def __init__(self, session: Session, theme: Theme, settings: WindowSettings) -> None:
        self.sizes = SizesPlace(session, theme)
        self.comparison = ComparePlace(session, theme, settings)
        self.rack = RackPlace(session, theme, settings)
        self.book = BookPlace(session, theme, settings)
        super().__init__("Stock", (self.sizes, self.comparison, self.rack, self.book))
        self.sizes.book_wanted.connect(self._show_book)

    def _show_book(self, material: str) -> None:
        self.show_page(self.book)
        self.book.show_table("sheets", material)
