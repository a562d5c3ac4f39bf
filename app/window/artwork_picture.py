"""Letters as the artwork has them, at their true size, with the overall measures."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainterPath, QTransform

from app.artwork.drawing import Letter, Lettering
from app.job.document import DisplayUnits, Job
from app.planning.prepare import Prepared
from app.window.paths import PathCache
from app.window.picture import Look, Measure, Picture, Thing, Words
from app.window.theme import Theme
from app.window.wording import area, count, size
from geometry.measure import region_area, region_perimeter
from geometry.units import format_both, format_length

LETTER_LOOK = Look(
    fill=lambda colours: QColor(colours.letter), edge=lambda colours: QColor(colours.letter), edge_px=0.6
)


def artwork_picture(prepared: Prepared, job: Job, theme: Theme, paths: PathCache) -> Picture:
    """Every artwork of the job below the one before, each with its width and height."""
    picture = Picture(theme)
    names = {artwork.id: artwork.name for artwork in job.artwork}
    gap = 0.22 * max((max(one.height, 0.15 * one.width) for one in prepared.lettering), default=1.0)
    top = 0.0
    for lettering in prepared.lettering:
        bottom = top - lettering.height
        frame = QTransform.fromTranslate(0.0, bottom)
        picture.frames[lettering.artwork] = frame
        for letter in lettering.letters:
            picture.frames[letter.id] = frame
            picture.add(_letter(letter, frame, job.units, theme, paths))
        _measures(picture, lettering, bottom, gap, theme)
        if len(prepared.lettering) > 1:
            picture.add(
                Words(
                    theme,
                    names.get(lettering.artwork, lettering.artwork),
                    QPointF(0.0, top + gap * 0.16),
                    align=Qt.AlignmentFlag.AlignLeft,
                    px=13,
                    bold=True,
                    is_muted=False,
                )
            )
        top = bottom - 1.6 * gap
    width = max((one.width for one in prepared.lettering), default=1.0)
    bottom = top + 1.6 * gap
    picture.bounds = QRectF(-0.42 * gap, bottom - 0.42 * gap, width + 0.5 * gap, -bottom + 0.7 * gap)
    return picture


def letter_facts(letter: Letter, units: DisplayUnits, bounds: QRectF) -> tuple[tuple[str, str], ...]:
    """What is known of a letter."""
    edge = sum(region_perimeter(region) for region in letter.regions)
    holes = sum(len(region.holes) for region in letter.regions)
    facts = [
        ("Letter", letter.name),
        ("Id", letter.id),
        ("Width", format_both(bounds.width())),
        ("Height", format_both(bounds.height())),
        ("Pieces", str(len(letter.regions))),
        ("Counters", str(holes)),
        ("Area", area(sum(region_area(region) for region in letter.regions), units)),
        ("Edge length", format_length(edge, units)),
    ]
    if letter.source.layer:
        facts.append(("Layer", letter.source.layer))
    return tuple(facts)


def _letter(letter: Letter, frame: QTransform, units: DisplayUnits, theme: Theme, paths: PathCache) -> Thing:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for region in letter.regions:
        path.addPath(paths.of(region))
    bounds = path.boundingRect()
    holes = sum(len(region.holes) for region in letter.regions)
    tip = f"{letter.name}   {size(bounds.width(), bounds.height(), units)}"
    if holes:
        tip += f"   {count(holes, 'counter')}"
    thing = Thing(theme, letter.id, path, LETTER_LOOK, tip=tip, facts=letter_facts(letter, units, bounds))
    thing.setTransform(frame)
    return thing


def _measures(picture: Picture, lettering: Lettering, bottom: float, gap: float, theme: Theme) -> None:
    width, height = lettering.width, lettering.height
    below, left = bottom - 0.18 * gap, -0.18 * gap
    picture.add(Measure(theme, QPointF(0, below), QPointF(width, below)))
    picture.add(Words(theme, format_both(width), QPointF(width / 2, below - 0.14 * gap), px=13, is_muted=False))
    picture.add(Measure(theme, QPointF(left, bottom), QPointF(left, bottom + height)))
    picture.add(
        Words(
            theme,
            format_both(height),
            QPointF(left - 0.14 * gap, bottom + height / 2),
            px=13,
            is_muted=False,
            turned=True,
        )
    )
