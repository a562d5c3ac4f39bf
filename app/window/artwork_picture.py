"""Letters as the artwork has them, at their true size, with the overall measures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainterPath, QTransform

from app.artwork.drawing import Letter, Lettering
from app.job.document import DisplayUnits, Job
from app.planning.prepare import Prepared
from app.window.finding_marks import mark_findings
from app.window.flow import Size, flow_with_words
from app.window.paths import PathCache
from app.window.picture import FIT_MARGIN_PX, Look, Measure, Picture, Thing, Words, heading
from app.window.seam_lines import SeamLine
from app.window.theme import Theme
from app.window.wording import area, count, size
from geometry.measure import region_area, region_perimeter
from geometry.units import format_both, format_length

EDGE_PX: Final = 64.0
"""Kept free round the artworks for their measures and names."""
LETTER_LOOK: Final = Look(
    fill=lambda colours: QColor(colours.letter), edge=lambda colours: QColor(colours.letter), edge_px=0.6
)

OWN_BUILD_LOOK: Final = Look(
    fill=lambda colours: QColor(colours.accent), edge=lambda colours: QColor(colours.accent), edge_px=0.6
)
"""Of a letter that is made by another build than its artwork."""


def artwork_picture(prepared: Prepared, job: Job, theme: Theme, paths: PathCache, board_px: Size) -> Picture:
    """Every artwork of the job at its true size with its width and height, laid out for a board of this size."""
    picture = Picture(theme)
    artworks = {artwork.id: artwork for artwork in prepared.job.artwork}
    builds = {build.id: build.name for build in prepared.job.builds}
    is_single = len(prepared.lettering) == 1
    placed = artwork_frames(prepared, board_px)
    for lettering in prepared.lettering:
        frame, artwork = placed.frames[lettering.artwork], artworks[lettering.artwork]
        picture.frames[lettering.artwork] = frame
        for letter in lettering.letters:
            picture.frames[letter.id] = frame
            build = builds[artwork.build_of(letter.id)]
            look = LETTER_LOOK if artwork.build_of(letter.id) == artwork.build else OWN_BUILD_LOOK
            picture.add(_letter(letter, frame, build, look, job.units, theme, paths))
        letters = {letter.id for letter in lettering.letters}
        for seam in prepared.seams:
            if seam.letter in letters:
                line = SeamLine(theme, seam)
                line.setTransform(frame)
                picture.add(line)
        mark_findings(picture, lettering.findings, frame)
        _measures(picture, lettering, frame, job.units, theme)
        if not is_single:
            at = frame.map(QPointF(0.0, lettering.height))
            picture.add(heading(theme, artwork.name, at, lift_px=14, room=lettering.width))
    picture.bounds = placed.bounds
    return picture


@dataclass(frozen=True, slots=True)
class Frames:
    """Where each artwork's frame lies on the board, by its id, and what they take up with their measures."""

    frames: dict[str, QTransform]
    bounds: QRectF


def artwork_frames(prepared: Prepared, board_px: Size) -> Frames:
    """The artworks in rows, with room around each for its measures and name."""
    sizes = [(one.width, one.height) for one in prepared.lettering]
    laid, mm_per_px = flow_with_words([sizes], gap_px=(56.0, 62.0), head_px=0.0, edge_px=EDGE_PX, board_px=board_px)
    frames = {
        lettering.artwork: QTransform.fromTranslate(x, y - lettering.height)
        for lettering, (x, y) in zip(prepared.lettering, laid.corners[0], strict=True)
    }
    edge = (EDGE_PX - FIT_MARGIN_PX) * mm_per_px
    return Frames(frames, QRectF(-edge, -laid.height - edge, laid.width + 2 * edge, laid.height + 2 * edge))


def letter_facts(letter: Letter, build: str, units: DisplayUnits, bounds: QRectF) -> tuple[tuple[str, str], ...]:
    """What is known of a letter."""
    edge = sum(region_perimeter(region) for region in letter.regions)
    holes = sum(len(region.holes) for region in letter.regions)
    facts = [
        ("Letter", letter.name),
        ("Id", letter.id),
        ("Build", build),
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


def _letter(
    letter: Letter, frame: QTransform, build: str, look: Look, units: DisplayUnits, theme: Theme, paths: PathCache
) -> Thing:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for region in letter.regions:
        path.addPath(paths.of(region))
    bounds = path.boundingRect()
    holes = sum(len(region.holes) for region in letter.regions)
    tip = f"{letter.name}   {size(bounds.width(), bounds.height(), units)}"
    if holes:
        tip += f"   {count(holes, 'counter')}"
    if look is OWN_BUILD_LOOK:
        tip += f"   made as {build}"
    thing = Thing(theme, letter.id, path, look, tip=tip, facts=letter_facts(letter, build, units, bounds))
    thing.setTransform(frame)
    return thing


def _measures(picture: Picture, lettering: Lettering, frame: QTransform, units: DisplayUnits, theme: Theme) -> None:
    width, height = lettering.width, lettering.height
    zero, right, top = (frame.map(QPointF(*at)) for at in ((0.0, 0.0), (width, 0.0), (0.0, height)))
    picture.add(Measure(theme, zero, right, (0, 12)))
    picture.add(
        Words(
            theme,
            format_both(width),
            (zero + right) / 2,
            shift_px=(0, 24),
            px=13,
            is_muted=False,
            room=width,
            shorter=(format_length(width, units),),
            rank=1,
            is_beside=True,
        )
    )
    picture.add(Measure(theme, zero, top, (-12, 0)))
    picture.add(
        Words(
            theme,
            format_both(height),
            (zero + top) / 2,
            shift_px=(-24, 0),
            px=13,
            is_muted=False,
            room=height,
            shorter=(format_length(height, units),),
            turned=True,
            rank=2,
            is_beside=True,
        )
    )
