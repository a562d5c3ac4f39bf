"""Checks of whole letters. That they lie over each other is told with the artwork, in `app.artwork.overlaps`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from app.artwork.drawing import Letter, Lettering
from app.fabrication.part import PartSeam, Role
from app.fabrication.remarks import FabricationCode
from app.fabrication.seam_remarks import middle_of, misses
from app.fabrication.subject import Terms
from app.job.document import Job, Seam
from geometry.curve import Point
from geometry.findings import Finding, Severity
from geometry.measure import Bounds, region_bounds

_SAME: Final = 1e-6  # mm; ends of seams that agree within this are the same


def about_height(letter: Letter, terms: Terms) -> list[Finding]:
    """Whether a letter, loose pieces and all, is too low to be built or so tall that it needs more."""
    whole = _bounds(letter)
    least, most = terms["least letter height"], terms["reinforce above"]
    if whole.height < least:
        code = FabricationCode.LOW_LETTER
        said = f"below {terms.say(least)}, the least that can be built and lit: enlarge it"
    elif whole.height > most:
        code = FabricationCode.TALL_LETTER
        said = f"above {terms.say(most)}: it needs structural reinforcement"
    else:
        return []
    message = f"letter {letter.name} ({letter.id}) is {terms.say(whole.height)} high, {said}"
    return [Finding(code, Severity.WARNING, message, whole.centre, subject=letter.id)]


def about_own_seams(job: Job, lettering: Sequence[Lettering]) -> list[Finding]:
    """Own seams of letters that the artwork no longer has: kept in the job, and of no use."""
    letters = {letter.id for lines in lettering for letter in lines.letters}
    return [
        Finding(
            FabricationCode.SEAM_MISSES,
            Severity.WARNING,
            f"the job has own seams for the {one.part} of letter '{one.letter}', which the artwork does not have: "
            "remove them, or move them to the letter that is meant",
            subject=one.letter,
        )
        for one in job.seams
        if one.letter not in letters
    ]


def about_letter_builds(job: Job, lettering: Sequence[Lettering]) -> list[Finding]:
    """Builds of single letters that the artwork no longer has: kept in the job, and of no use."""
    letters = {letter.id for lines in lettering for letter in lines.letters}
    read = {lines.artwork for lines in lettering}
    return [
        Finding(
            FabricationCode.BUILD_MISSES,
            Severity.WARNING,
            f"artwork '{artwork.name}' has a build of its own for letter '{letter}', which it does not have: "
            "choose the build of its letters anew",
            subject=artwork.id,
        )
        for artwork in job.artwork
        for letter, _build in artwork.letter_builds
        if artwork.id in read and letter not in letters
    ]


def about_missed_seams(
    letter: Letter, own: Mapping[Role, Sequence[Seam]], made: Sequence[PartSeam], corner: Point, terms: Terms
) -> list[Finding]:
    """Own seams that cut nothing of a letter, whose lower left stands at `corner`."""
    found = []
    for role, seams in own.items():
        cut = [one.seam for one in made if one.role is role]
        for seam in seams:
            if any(math.dist(seam.start, one.start) + math.dist(seam.end, one.end) < _SAME for one in cut):
                continue
            x, y = middle_of(seam)
            message = f"letter {letter.name} ({letter.id}): {misses(role, seam, terms)}"
            at = (corner[0] + x, corner[1] + y)
            found.append(Finding(FabricationCode.SEAM_MISSES, Severity.WARNING, message, at, subject=letter.id))
    return found


def _bounds(letter: Letter) -> Bounds:
    whole = region_bounds(letter.regions[0])
    for region in letter.regions[1:]:
        whole = whole.union(region_bounds(region))
    return whole
