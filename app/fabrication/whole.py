"""Checks of whole letters. That they lie over each other is told with the artwork, in `app.artwork.overlaps`."""

from __future__ import annotations

from collections.abc import Sequence

from app.artwork.drawing import Letter, Lettering
from app.fabrication.remarks import FabricationCode
from app.fabrication.subject import Terms
from app.job.document import Job
from geometry.findings import Finding, Severity
from geometry.measure import Bounds, region_bounds


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


def _bounds(letter: Letter) -> Bounds:
    whole = region_bounds(letter.regions[0])
    for region in letter.regions[1:]:
        whole = whole.union(region_bounds(region))
    return whole
