"""The emblem of the market hall, as a job of its own."""

from __future__ import annotations

from pathlib import Path

from app.artwork.drawing import Lettering
from app.artwork.letters import letter_drawing
from app.artwork.read import read_here
from app.job.document import Artwork, Job, Scale, ScaleBy
from tests.app.fabrication.letters import IN, job

FILE = Path(__file__).parents[3] / "sample_jobs" / "market_hall" / "emblem.svg"


def emblem(width: float | None = None) -> tuple[Job, Lettering]:
    """The emblem at its own size, or so many inches wide, and a job for it."""
    scale = Scale() if width is None else Scale(ScaleBy.OVERALL_WIDTH, width * IN)
    artwork = Artwork("line1", "Emblem", "letters", file=FILE.name, scale=scale)
    return job(settings=[("face clearance", 0.5 * IN)]), letter_drawing(read_here(FILE), artwork)
