"""From job to parts: reads the artwork and derives every part, all before any nesting."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.artwork.drawing import Drawing, Lettering
from app.errors import JobError
from app.fabrication.part import CutPart, PartSeam, Strip
from app.job.document import Artwork, Job
from app.stock.book import StockSheet
from geometry.findings import Finding
from nesting.plan import Placement

if TYPE_CHECKING:
    from app.artwork.child import ReadingProcess
    from app.artwork.limits import Limits


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A job with its letters and parts.

    Fields
    ------
    job : Job
    lettering : tuple of Lettering
        One per artwork of the job, in order.
    parts : tuple of CutPart
    findings : tuple of Finding
        Of the reading and of the fabrication, in that order.
    seams : tuple of PartSeam
    strips : tuple of Strip
    begun : tuple of BegunSheet
        Sheets in use already, with room for more parts.
    """

    job: Job
    lettering: tuple[Lettering, ...]
    parts: tuple[CutPart, ...]
    findings: tuple[Finding, ...]
    seams: tuple[PartSeam, ...] = ()
    strips: tuple[Strip, ...] = ()
    begun: tuple[BegunSheet, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class BegunSheet:
    """A sheet that some parts lie on already: they stay, and others may come beside them.

    Fields
    ------
    id : str
        As stock of the problem; unlike any other.
    stock : StockSheet
        What it is.
    held : tuple of (CutPart, Placement)
    """

    id: str
    stock: StockSheet
    held: tuple[tuple[CutPart, Placement], ...]


def prepare(job: Job, *, on_progress: Callable[[float, str], None] | None = None) -> Prepared:
    """Letters and parts of a job.

    Raises
    ------
    AppError
        When an artwork cannot be read or a letter cannot be made; one sentence.
    """
    # Reading libraries take their time to import; a command that reads nothing should not pay for them.
    from app.artwork.child import ReadingProcess
    from app.artwork.limits import limits_set

    if not job.artwork:
        raise JobError(f"job '{job.name}' has no artwork; add a file or words in a font")
    lettering = []
    with ReadingProcess(limits_set()) as process:
        process.start()  # it gets ready while this process imports
        from app.artwork.letters import letter_drawing
        from app.fabrication.fabricate import fabricate

        for index, artwork in enumerate(job.artwork):
            if on_progress:
                on_progress(index / (len(job.artwork) + 1), f"reading {artwork.name}")
            lettering.append(letter_drawing(draw(artwork, folder=job.folder, process=process), artwork))
    if on_progress:
        on_progress(len(job.artwork) / (len(job.artwork) + 1), "deriving parts")
    made = fabricate(job, tuple(lettering))
    findings = tuple(finding for one in lettering for finding in one.findings) + made.findings
    return Prepared(job, tuple(lettering), made.parts, findings, made.seams, made.strips)


def draw(
    artwork: Artwork, *, folder: str, limits: Limits | None = None, process: ReadingProcess | None = None
) -> Drawing:
    """The drawing of one artwork, from its file or from its words; relative paths start at `folder`.

    Parameters
    ----------
    artwork : Artwork
    folder : str
    limits : Limits, optional
        Those of the settings by default.
    process : ReadingProcess, optional
        The process to read in, with its own limits; by default one is started for this artwork.

    Raises
    ------
    ReadError
        If the artwork cannot be read.
    JobError
        If it names neither a file nor words.
    """
    from app.artwork.options import ReadOptions
    from app.artwork.read import read_drawing, read_words

    if artwork.text is not None:
        font = os.path.join(folder, artwork.text.font)
        joins = artwork.join_overlaps
        return read_words(artwork.text, font, join_overlaps=joins, limits=limits, process=process)
    if artwork.file is None:
        raise JobError(f"artwork '{artwork.id}' names neither a file nor words; give it one of the two")
    options = ReadOptions(
        units=artwork.units,
        layers=artwork.layers,
        page=artwork.page,
        outline_strokes=artwork.outline_strokes,
        join_overlaps=artwork.join_overlaps,
        join_gap=artwork.join_gap,
        font_folders=tuple(os.path.join(folder, one) for one in artwork.font_folders),
    )
    return read_drawing(os.path.join(folder, artwork.file), options=options, limits=limits, process=process)
