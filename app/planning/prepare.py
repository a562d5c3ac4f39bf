"""From job to parts: reads the artwork and derives every part, all before any nesting."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass

from app.artwork.drawing import Drawing, Lettering
from app.errors import JobError
from app.fabrication.part import CutPart, PartSeam
from app.job.document import Artwork, Job
from geometry.findings import Finding


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
    """

    job: Job
    lettering: tuple[Lettering, ...]
    parts: tuple[CutPart, ...]
    findings: tuple[Finding, ...]
    seams: tuple[PartSeam, ...] = ()


def prepare(job: Job, *, on_progress: Callable[[float, str], None] | None = None) -> Prepared:
    """Letters and parts of a job.

    Raises
    ------
    AppError
        When an artwork cannot be read or a letter cannot be made; one sentence.
    """
    # Reading libraries take their time to import; a command that reads nothing should not pay for them.
    from app.artwork.letters import letter_drawing
    from app.fabrication.fabricate import fabricate

    if not job.artwork:
        raise JobError(f"job '{job.name}' has no artwork; add a file or words in a font")
    lettering = []
    for index, artwork in enumerate(job.artwork):
        if on_progress:
            on_progress(index / (len(job.artwork) + 1), f"reading {artwork.name}")
        lettering.append(letter_drawing(draw(artwork, folder=job.folder), artwork))
    if on_progress:
        on_progress(len(job.artwork) / (len(job.artwork) + 1), "deriving parts")
    made = fabricate(job, tuple(lettering))
    findings = tuple(finding for one in lettering for finding in one.findings) + made.findings
    return Prepared(job, tuple(lettering), made.parts, findings, made.seams)


def draw(artwork: Artwork, *, folder: str) -> Drawing:
    """The drawing of one artwork, from its file or from its words; relative paths start at `folder`."""
    if artwork.text is not None:
        from app.artwork.fonts import set_text

        return set_text(artwork.text, os.path.join(folder, artwork.text.font))
    if artwork.file is None:
        raise JobError(f"artwork '{artwork.id}' names neither a file nor words; give it one of the two")
    from app.artwork.read import read_drawing  # its libraries cost half a second, which words in a font do not need

    return read_drawing(os.path.join(folder, artwork.file), units=artwork.units, layers=artwork.layers)
