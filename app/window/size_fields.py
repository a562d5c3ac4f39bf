"""The fields that set the size of an artwork: what holds it, how long that is, the file's unit, how many sets."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QWidget

from app.artwork.drawing import Lettering
from app.job import edits
from app.job.document import Artwork, DisplayUnits, Job, Scale, ScaleBy
from app.window.artwork_bars import UNIT_NAMES
from app.window.dimension_hand import Span
from app.window.document import Edit
from app.window.facts import button
from app.window.fields import Choice, LengthField, WholeNumber
from app.window.forms import panel_label
from geometry.units import MM_PER, format_length


class SizeFields(QWidget):
    """Shows one artwork of the job, and hands on what is to be done with it.

    Signals
    -------
    artwork_chosen : str
        Another artwork is to be shown.
    edited : str, Edit, str
        What is to be done with the job, in words and as an edit, and the gesture it belongs to.
    refused : str
        Why what was typed is not taken.
    points_wanted : the size is to be set by two points of the drawing
    """

    artwork_chosen = Signal(object)
    edited = Signal(str, object, str)
    refused = Signal(str)
    points_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: Artwork | None = None
        self._lettering: Lettering | None = None
        self._units = DisplayUnits.INCHES
        self.artwork = Choice("Artwork shown in the fields")
        self.artwork.chosen.connect(self.artwork_chosen)
        self.scale_by = Choice("What sets the size")
        self.scale_by.chosen.connect(self._choose_scale_by)
        self.length = LengthField("Size of the artwork")
        self.length.committed.connect(self._set_length)
        self.length.refused.connect(self.refused)
        self.file_units = Choice("Unit of the file's numbers")
        self.file_units.setToolTip("What the numbers in the file mean, when the file does not say or is wrong")
        self.file_units.chosen.connect(self._set_file_units)
        self.measure = button(
            "Two points…", tip="Set the size by two clicks on the drawing and their true distance (S)"
        )
        self.measure.setAccessibleName("Set the size by two points")
        self.measure.clicked.connect(self.points_wanted)
        self.sets = WholeNumber("Sets made of the whole artwork", 1, 999)
        self.sets.setToolTip("How many of the whole artwork are made")
        self.sets.valueChanged.connect(self._set_sets)
        self._artwork_label = panel_label("Artwork", self.artwork)
        self._file_units_label = panel_label("File's unit", self.file_units)
        rows = (
            (self._artwork_label, (self.artwork,)),
            (panel_label("Size set by", self.scale_by), (self.scale_by,)),
            (panel_label("Length", self.length), (self.length, self.measure)),
            (self._file_units_label, (self.file_units,)),
            (panel_label("Sets", self.sets), (self.sets,)),
        )
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(7)
        grid.setColumnStretch(1, 1)
        for row, (label, widgets) in enumerate(rows):
            grid.addWidget(label, row, 0)
            for column, widget in enumerate(widgets, start=1):
                grid.addWidget(widget, row, column, 1, 3 - len(widgets))

    def show_artwork(self, job: Job, artwork: Artwork, lettering: Lettering | None) -> None:
        """Show an artwork; `lettering` is its last reading."""
        self._shown, self._lettering, self._units = artwork, lettering, job.units
        self.artwork.offer([(one.name, one.id) for one in job.artwork], artwork.id)
        for widget in (self.artwork, self._artwork_label):
            widget.setVisible(len(job.artwork) > 1)
        for widget in (self.file_units, self._file_units_label):
            widget.setVisible(artwork.file is not None)
        by = artwork.scale.by
        self.scale_by.offer([(way.value.capitalize(), way) for way in _ways(artwork, lettering)], by)
        self.length.setEnabled(by is not ScaleBy.AS_DRAWN)
        if not self.length.hasFocus() or not self.length.isModified():
            shown = artwork.scale.length if by is not ScaleBy.AS_DRAWN else self._measured(by)
            self.length.show_length(shown, job.units)
        self.file_units.offer(self._unit_entries(), artwork.units)
        self.sets.show_value(artwork.sets)

    def _unit_entries(self) -> list[tuple[str, str | None]]:
        """Units to choose from, each with the size that the file as drawn has in it."""
        entries: list[tuple[str, str | None]] = [("as the file says", None)]
        lettering = self._lettering
        for unit, name in UNIT_NAMES.items():
            size = ""
            if lettering is not None and lettering.file is not None:
                drawn = (one / lettering.file.number * MM_PER[unit] for one in (lettering.width, lettering.height))
                size = ": " + " × ".join(format_length(one, self._units.value) for one in drawn)
            entries.append((name + size, unit))
        return entries

    def _measured(self, by: ScaleBy) -> float | None:
        """What a measure of the artwork is now, mm."""
        lettering = self._lettering
        if lettering is None:
            return None
        return {
            ScaleBy.AS_DRAWN: lettering.height,
            ScaleBy.CAPITAL_HEIGHT: lettering.capital_height,
            ScaleBy.OVERALL_WIDTH: lettering.width,
            ScaleBy.OVERALL_HEIGHT: lettering.height,
        }.get(by)

    def _choose_scale_by(self, by: ScaleBy) -> None:
        artwork = self._shown
        if artwork is None or artwork.scale.by is by:
            return
        # The size stays what it is; only the measure that holds it changes.
        length = None if by is ScaleBy.AS_DRAWN else self._measured(by)
        if by is not ScaleBy.AS_DRAWN and length is None:
            self.scale_by.offer(
                [(way.value.capitalize(), way) for way in _ways(artwork, self._lettering)], artwork.scale.by
            )
            return
        self._edit(f"set size by {by.value}", lambda job: edits.set_scale(job, artwork.id, Scale(by, length)))

    def _set_length(self, length: float) -> None:
        artwork = self._shown
        if artwork is None or artwork.scale.by is ScaleBy.AS_DRAWN:
            return
        text = f"change {artwork.scale.by.value} to {format_length(length, self._units.value)}"
        self._edit(text, lambda job: edits.set_scale(job, artwork.id, replace(artwork.scale, length=length)))

    def _set_file_units(self, units: str | None) -> None:
        artwork = self._shown
        if artwork is not None:
            self._edit("change the file's unit", lambda job: edits.set_artwork_units(job, artwork.id, units))

    def _set_sets(self, sets: int) -> None:
        artwork = self._shown
        if artwork is not None:
            self._edit("change sets", lambda job: edits.set_sets(job, artwork.id, sets), self.sets.gesture)

    def _edit(self, text: str, edit: Edit, merge: str = "") -> None:
        self.edited.emit(text, edit, merge)


def scale_of_span(artwork: Artwork, lettering: Lettering, span: Span, length: float) -> Scale:
    """The scale that makes the distance between two points of an artwork `length` mm."""
    facts = lettering.file
    if facts is None:  # words in a font: what is set is the height of a capital
        capital = lettering.capital_height or lettering.height
        return Scale(ScaleBy.CAPITAL_HEIGHT, capital * length / span.length)
    ends = [
        tuple(round(at / facts.number + corner, 9) for at, corner in zip(point, facts.corner, strict=True))
        for point in (span.start, span.end)
    ]
    return Scale(ScaleBy.KNOWN_DIMENSION, length, ends[0], ends[1])


def _ways(artwork: Artwork, lettering: Lettering | None) -> list[ScaleBy]:
    """What can hold the size: a known dimension begins with two clicks, so it is offered only where there is one."""
    by = artwork.scale.by
    absent = {ScaleBy.KNOWN_DIMENSION}
    if lettering is not None and lettering.capital_height is None:
        absent.add(ScaleBy.CAPITAL_HEIGHT)
    return [way for way in ScaleBy if way is by or way not in absent]
