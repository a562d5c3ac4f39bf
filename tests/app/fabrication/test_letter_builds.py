"""Letters of one artwork made by different builds."""

from __future__ import annotations

from dataclasses import replace

from app.fabrication.fabricate import fabricate
from app.fabrication.part import Role
from app.fabrication.remarks import FabricationCode
from app.job.document import Build, Job
from app.job.edits import add_build, set_letter_builds
from geometry.arcs import circle
from geometry.build import region
from tests.app.fabrication.letters import lettering
from tests.app.fabrication.test_builds import build_job

RING = region(circle((300.0, 300.0), 300.0), [circle((300.0, 300.0), 120.0)])


def two_builds() -> Job:
    job = add_build(
        build_job("face-lit with retainer"), Build("flat", "Flat", "flat-cut", (("panel", "pvc-white-19mm"),))
    )
    return set_letter_builds(job, "line1", ["line1-02"], "flat")


def test_a_letter_is_made_by_its_own_build_and_the_rest_by_the_artworks():
    made = fabricate(two_builds(), (lettering(RING, RING),))  # alike, so that nothing may be taken from the other's
    roles = {letter: {part.role for part in made.parts if part.letter == letter} for letter in ("line1-01", "line1-02")}
    assert roles["line1-01"] == {Role.BACKER, Role.FACE, Role.RETAINER, Role.COUNTER_RETAINER}
    assert roles["line1-02"] == {Role.PANEL}
    assert {part.material for part in made.parts if part.letter == "line1-02"} == {"pvc-white-19mm"}


def test_a_build_of_a_letter_that_is_not_there_is_told():
    job = two_builds()
    made = fabricate(job, (lettering(RING),))
    told = [finding for finding in made.findings if finding.code == FabricationCode.BUILD_MISSES]
    assert len(told) == 1
    assert "'line1-02'" in told[0].message
    artwork = replace(job.artwork[0], letter_builds=())
    assert not [
        finding
        for finding in fabricate(replace(job, artwork=(artwork,)), (lettering(RING),)).findings
        if finding.code == FabricationCode.BUILD_MISSES
    ]
