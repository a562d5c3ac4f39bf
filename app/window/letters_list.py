"""Every letter with its size: a table to sort, to copy from, and to choose letters for the drawing or for a build."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Final

from PySide6.QtCore import QItemSelectionModel, Signal
from PySide6.QtWidgets import QWidget

from app.artwork.drawing import Letter, Lettering
from app.job.document import DisplayUnits
from app.window.data_table import Cell, Column, DataTable, Row, number
from app.window.facts import Section, button
from app.window.theme import Theme
from geometry.measure import region_bounds
from geometry.units import format_length

COLUMNS: Final = (
    Column("Letter", "Name of the letter"),
    Column("Width", "Width of the letter, as made", 64, is_number=True),
    Column("Height", "Height of the letter, as made", 64, is_number=True),
    Column("Counters", "Holes inside the letter", 68, is_number=True),
    Column("Build", "Build that makes the letter", 76),
)
COUNTERS, BUILD = 3, 4
ROWS_SHOWN: Final = 7


@dataclass(frozen=True, slots=True)
class LetterSize:
    """What the table says of a letter: id, name, width and height (mm), number of counters."""

    letter: str
    name: str
    width: float
    height: float
    counters: int


@dataclass(frozen=True, slots=True)
class LetterBuild:
    """Name of the build that makes a letter, and whether it is another than its artwork's."""

    name: str
    is_own: bool


def letter_sizes(lettering: Sequence[Lettering]) -> tuple[LetterSize, ...]:
    """Sizes of all letters, in reading order."""
    return tuple(_measured(letter) for one in lettering for letter in one.letters)


class LettersList(Section):
    """The table with its heading and a button that copies it.

    Signals
    -------
    chosen : str
        Id of the letter a person went to last; empty for none. `letters` has all that are chosen.
    """

    chosen = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__("Letters", parent=parent)
        self.copy_button = button("Copy", "plain", tip="Copy the table, or the rows chosen in it", name="Copy letters")
        self.table = DataTable("Letters and their sizes", COLUMNS, theme)
        self.copy_button.clicked.connect(self.table.copy)
        self.table.setToolTip("Choose letters to see them on the drawing; Ctrl or Shift adds more")
        self.table.chosen.connect(self.chosen)
        self.add_beside(self.copy_button)
        self.box.addWidget(self.table)
        self.show_letters((), DisplayUnits.INCHES, {})

    @property
    def letters(self) -> tuple[str, ...]:
        """Ids of the letters chosen."""
        return self.table.keys

    def show_letters(self, sizes: Sequence[LetterSize], units: DisplayUnits, builds: Mapping[str, LetterBuild]) -> None:
        """List these and no others; `builds` has the build of each letter, where there is more than one."""
        self.setVisible(bool(sizes))
        self.heading.setText(f"Letters ({len(sizes)})")
        table = self.table
        table.hide_columns({COUNTERS if builds else BUILD})
        table.fill(
            [
                Row(
                    one.letter,
                    (
                        Cell(one.name, tip=f"{one.name} ({one.letter})"),
                        number(format_length(one.width, units.value), one.width),
                        number(format_length(one.height, units.value), one.height),
                        number(str(one.counters), one.counters),
                        _build_cell(builds.get(one.letter)),
                    ),
                )
                for one in sizes
            ]
        )
        shown = max(min(len(sizes), ROWS_SHOWN), 1)
        high = table.verticalHeader().defaultSectionSize()
        table.setFixedHeight(table.horizontalHeader().sizeHint().height() + shown * high + 4)

    def show_selected(self, letters: Sequence[str]) -> None:
        """Mark the rows of the letters selected on the drawing."""
        table = self.table
        if set(letters) == set(table.keys):
            return
        flags = QItemSelectionModel.SelectionFlag
        table.blockSignals(True)
        table.clearSelection()
        keys = table.all_keys
        for letter in letters:
            if letter in keys:
                table.setCurrentCell(keys.index(letter), 0, flags.Select | flags.Rows)
                table.scrollToItem(table.item(keys.index(letter), 0))
        table.blockSignals(False)
        table.viewport().update()


def _build_cell(build: LetterBuild | None) -> Cell:
    if build is None:
        return Cell("")
    return Cell(build.name, look="own", tip="A build of its own") if build.is_own else Cell(build.name)


def _measured(letter: Letter) -> LetterSize:
    bounds = reduce(lambda one, other: one.union(other), map(region_bounds, letter.regions))
    counters = sum(len(region.holes) for region in letter.regions)
    return LetterSize(letter.id, letter.name, bounds.width, bounds.height, counters)
