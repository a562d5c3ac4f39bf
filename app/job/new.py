"""A new job, and free ids for what is added to one."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import count

from app.job.check import check_job
from app.job.document import Build, DisplayUnits, Job
from app.job.kinds import FACE_LIT_WITH_RETAINER
from app.stock.defaults import shipped

_BACKER, _FACE, _RETAINER = "alu-0.125", "acrylic-white-3/16", "alu-0.125"


def new_job(name: str = "new job", *, folder: str = "", units: DisplayUnits = DisplayUnits.INCHES) -> Job:
    """A job without artwork: one build, its materials and every shipped sheet size of them."""
    book = shipped()
    materials = tuple(book.materials[one] for one in dict.fromkeys((_BACKER, _FACE, _RETAINER)))
    roles = (("backer", _BACKER), ("face", _FACE), ("retainer", _RETAINER))
    used = {material.id for material in materials}
    return check_job(
        Job(
            name=name,
            artwork=(),
            builds=(Build("letters", "Face-lit letters", FACE_LIT_WITH_RETAINER.name, roles),),
            materials=materials,
            cutters=tuple(book.cutters[one] for one in dict.fromkeys(material.cutter for material in materials)),
            stock=tuple(sheet for sheet in book.stock.values() if sheet.material in used),
            units=units,
            folder=folder,
        )
    )


def free_id(stem: str, taken: Iterable[str]) -> str:
    """The stem itself, or with the first number that makes it new: "line", "line-2", "line-3"."""
    used = set(taken)
    stem = " ".join(stem.split())[:40] or "item"
    if stem not in used:
        return stem
    return next(found for number in count(2) if (found := f"{stem}-{number}") not in used)
