"""How a file is read, where it leaves something open: what its letters say, layers, page, strokes, overlaps, gaps."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from app.artwork.drawing import FileFacts
from app.job import edits
from app.job.check import WIDEST_GAP
from app.job.document import Artwork, DisplayUnits
from app.window.document import Edit
from app.window.facts import button
from app.window.fields import CheckBox, LengthField, WholeNumber
from app.window.forms import panel_label
from app.window.wording import count
from geometry.units import format_length

ROWS_SHOWN = 5


class ReadingChoices(QWidget):
    """The choices for one artwork file, folded away until wanted.

    Signals
    -------
    edited : str, function, str
        What is done, in words; the edit; key of the gesture.
    refused : str
    """

    edited = Signal(str, object, str)
    refused = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._artwork = ""
        self._layers: tuple[str, ...] = ()
        self.unfold = button("How the file is read", "plain", tip="Layers, page, strokes, overlaps and gaps")
        self.unfold.setCheckable(True)
        self.unfold.toggled.connect(self._fold)
        self.reads = QLineEdit()
        self.reads.setAccessibleName("What the letters say")
        self.reads.setPlaceholderText("such as MARKET HALL")
        self.reads.setToolTip(
            "Names the letters by what they say: one character for each, in reading order. "
            "Blanks count for nothing; empty leaves the names of the file."
        )
        self.reads.editingFinished.connect(self._set_reads)
        self.layers = QListWidget()
        self.layers.setAccessibleName("Layers to read")
        self.layers.setToolTip("Layers of the file that are read; none ticked reads all that are visible in it")
        self.layers.itemChanged.connect(self._set_layers)
        self.layers_label = panel_label("Layers", self.layers)
        self.page = WholeNumber("Page of the file", 1, 9999)
        self.page.setToolTip("Which page of the file is read")
        self.page.valueChanged.connect(self._set_page)
        self.page_label = panel_label("Page", self.page)
        self.strokes = CheckBox("Strokes are as wide as painted")
        self.strokes.setToolTip("Ticked, a stroke is read as the outline it paints; else its middle is the line to cut")
        self.strokes.clicked.connect(
            lambda is_on: self._do(
                "read strokes otherwise", lambda job: edits.set_outline_strokes(job, self._id, is_on)
            )
        )
        self.overlaps = CheckBox("Overlapping shapes are one")
        self.overlaps.setToolTip("Ticked, shapes that lie over each other are joined into one letter")
        self.overlaps.clicked.connect(
            lambda is_on: self._do("read overlaps otherwise", lambda job: edits.set_join_overlaps(job, self._id, is_on))
        )
        self.gap = LengthField("Widest gap that is closed", may_be_empty=True)
        self.gap.setToolTip("Loose ends of lines closer than this are joined. Empty takes the usual gap.")
        self.gap.committed.connect(self._set_gap)
        self.gap.cleared.connect(lambda: self._set_gap(None))
        self.gap.refused.connect(self.refused)
        self.inside = QWidget()
        grid = QGridLayout(self.inside)
        grid.setContentsMargins(0, 2, 0, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(7)
        grid.setColumnStretch(1, 1)
        grid.addWidget(panel_label("Letters say", self.reads), 0, 0)
        grid.addWidget(self.reads, 0, 1)
        grid.addWidget(self.page_label, 1, 0)
        grid.addWidget(self.page, 1, 1)
        grid.addWidget(self.layers_label, 2, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(self.layers, 2, 1)
        grid.addWidget(panel_label("Close gaps to", self.gap), 3, 0)
        grid.addWidget(self.gap, 3, 1)
        grid.addWidget(self.strokes, 4, 0, 1, 2)
        grid.addWidget(self.overlaps, 5, 0, 1, 2)
        self.overlaps_only = CheckBox("Overlapping characters are one")
        self.overlaps_only.setToolTip("Ticked, characters that lie over each other, as in script, are joined")
        self.overlaps_only.clicked.connect(
            lambda is_on: self._do("read overlaps otherwise", lambda job: edits.set_join_overlaps(job, self._id, is_on))
        )
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(4)
        box.addWidget(self.unfold, 0, Qt.AlignmentFlag.AlignLeft)
        box.addWidget(self.inside)
        box.addWidget(self.overlaps_only)
        self._fold(False)

    @property
    def _id(self) -> str:
        return self._artwork

    def show_artwork(self, artwork: Artwork, facts: FileFacts | None, units: DisplayUnits) -> None:
        """Show the choices of an artwork; `facts` are those of its last reading."""
        is_file = artwork.file is not None
        self._artwork = artwork.id
        self.unfold.setVisible(is_file)
        self.inside.setVisible(is_file and self.unfold.isChecked())
        self.overlaps_only.setVisible(not is_file)
        self.overlaps_only.setChecked(artwork.join_overlaps)
        if not self.reads.hasFocus() or not self.reads.isModified():
            self.reads.setText(artwork.reads)
        pages = facts.pages if facts is not None else 1
        for widget in (self.page, self.page_label):
            widget.setVisible(pages > 1 or artwork.page > 1)
        self.page.setMaximum(max(pages, artwork.page))
        self.page.setSuffix(f" of {pages}" if pages > 1 else "")
        self.page.show_value(artwork.page)
        self._show_layers(facts.layers if facts is not None else artwork.layers or (), artwork.layers)
        self.strokes.setChecked(artwork.outline_strokes)
        self.overlaps.setChecked(artwork.join_overlaps)
        self.gap.show_length(artwork.join_gap, units)
        changed = sum(
            (
                bool(artwork.reads),
                artwork.layers is not None,
                artwork.page != 1,
                artwork.outline_strokes,
                artwork.join_overlaps,
                artwork.join_gap is not None,
            )
        )
        self.unfold.setText("How the file is read" + (f" ({count(changed, 'choice')} made)" if changed else ""))

    def _show_layers(self, layers: tuple[str, ...], chosen: tuple[str, ...] | None) -> None:
        for widget in (self.layers, self.layers_label):
            widget.setVisible(len(layers) > 1 or chosen is not None)
        self.layers.blockSignals(True)
        if layers != self._layers:
            self._layers = layers
            self.layers.clear()
            for name in layers:
                item = QListWidgetItem(name)
                item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
                self.layers.addItem(item)
        for index in range(self.layers.count()):
            item = self.layers.item(index)
            is_read = chosen is not None and item.text() in chosen
            item.setCheckState(Qt.CheckState.Checked if is_read else Qt.CheckState.Unchecked)
        self.layers.blockSignals(False)
        self.layers.setFixedHeight(min(max(len(layers), 1), ROWS_SHOWN) * 30 + 4)

    def _fold(self, is_open: bool) -> None:
        self.inside.setVisible(is_open)
        self.unfold.setAccessibleDescription("open" if is_open else "folded away")

    def _do(self, text: str, edit: Edit, merge: str = "") -> None:
        self.edited.emit(text, edit, merge)

    def _set_reads(self) -> None:
        text = " ".join(self.reads.text().split())
        self.reads.setModified(False)
        self._do("name the letters", lambda job: edits.set_reads(job, self._id, text))

    def _set_layers(self, _item: QListWidgetItem) -> None:
        items = [self.layers.item(index) for index in range(self.layers.count())]
        chosen = [item.text() for item in items if item.checkState() is Qt.CheckState.Checked]
        self._do("choose layers", lambda job: edits.set_artwork_layers(job, self._id, chosen or None))

    def _set_page(self, page: int) -> None:
        self._do("choose a page", lambda job: edits.set_artwork_page(job, self._id, page), self.page.gesture)

    def _set_gap(self, gap: float | None) -> None:
        if gap is not None and gap > WIDEST_GAP:
            self.refused.emit(
                f"a gap of {format_length(gap, self.gap.units.value)} is more than "
                f"{format_length(WIDEST_GAP, self.gap.units.value)}; close gaps as wide as that in the drawing"
            )
            return
        self._do("close other gaps", lambda job: edits.set_join_gap(job, self._id, gap))
