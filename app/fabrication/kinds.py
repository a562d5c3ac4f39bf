"""How each kind of build is made: its rules and checks.

A kind is named, with its roles and settings, in `app.job.kinds`; here stands what it does. To add one, write its entry
there, give it a row in `MAKING` here, and use the rules of `app.fabrication.pieces` or add one: a rule takes a region
of a letter and returns pieces with remarks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from app.fabrication.checks import (
    Check,
    cutter_passes_slots,
    cutter_reaches_corners,
    face_may_move,
    lit_stroke_between_rings,
    lit_stroke_within_trim,
    part_can_be_held,
    stroke_takes_lamps,
)
from app.fabrication.part import Role, Strip
from app.fabrication.pieces import Inset, PieceRule, Rings
from app.fabrication.strips import returns_of, trim_of
from app.fabrication.subject import Piece, Subject, Terms
from app.job.kinds import CABINET_FACE, FACE_LIT_WITH_RETAINER, FACE_LIT_WITH_TRIM, FLAT_CUT, HALO_LIT

StripRule = Callable[[Subject, Sequence[Piece], Terms], list[Strip]]
"""Strips of one region of a letter and its pieces; letter and quantity are filled in later."""


@dataclass(frozen=True, slots=True)
class Making:
    """What a kind of build does with each region of a letter.

    Fields
    ------
    rules : tuple of PieceRule
        Each makes its pieces from the region.
    checks : tuple of Check
        Each looks at the region and all pieces.
    stroke_reach : function of the settings
        Widest stroke any rule or check asks about, mm.
    drilled : tuple of Role
        Roles that get drain, mounting and wire holes.
    strips : tuple of StripRule
        Each tells the strip goods of one sort.
    is_lit : bool
        Whether there are lamps inside, so that limits of height and depth hold.
    has_film : bool
        Whether film may be laid on its faces.
    carries : Role
        The plate that the letter hangs together by: its pieces are the sections it is shipped in.
    depth : function of the settings
        Of the letter, without frame, mm.
    """

    rules: tuple[PieceRule, ...]
    checks: tuple[Check, ...]
    stroke_reach: Callable[[Mapping[str, float]], float]
    drilled: tuple[Role, ...] = ()
    strips: tuple[StripRule, ...] = ()
    is_lit: bool = True
    has_film: bool = False
    carries: Role = Role.BACKER
    depth: Callable[[Mapping[str, float]], float] = lambda values: values["return depth"]


MAKING: Final[dict[str, Making]] = {
    FACE_LIT_WITH_RETAINER.name: Making(
        rules=(
            Inset(Role.BACKER, ("return thickness", "backer fit")),
            Inset(Role.FACE, ("return thickness", "face clearance")),
            Rings(flange="retainer flange", fit="retainer fit"),
        ),
        checks=(
            stroke_takes_lamps,
            lit_stroke_between_rings,
            cutter_reaches_corners,
            cutter_passes_slots,
            part_can_be_held,
            face_may_move,
        ),
        stroke_reach=lambda values: max(
            values["least stroke"], 2.0 * values["retainer flange"] + values["least lit stroke"]
        ),
        drilled=(Role.BACKER,),
        strips=(returns_of,),
        has_film=True,
    ),
    FACE_LIT_WITH_TRIM.name: Making(
        rules=(
            Inset(Role.BACKER, ("return thickness", "backer fit")),
            Inset(Role.FACE, (), grown=("trim edge face",)),
        ),
        checks=(
            stroke_takes_lamps,
            lit_stroke_within_trim,
            cutter_reaches_corners,
            cutter_passes_slots,
            part_can_be_held,
        ),
        stroke_reach=lambda values: max(
            values["least stroke"], 2.0 * values["trim edge lip"] + values["least lit stroke"]
        ),
        drilled=(Role.BACKER,),
        strips=(returns_of, trim_of),
        has_film=True,
    ),
    HALO_LIT.name: Making(
        rules=(Inset(Role.BACKER, ("return thickness", "backer fit")), Inset(Role.FACE, ())),
        checks=(stroke_takes_lamps, cutter_reaches_corners, cutter_passes_slots, part_can_be_held),
        stroke_reach=lambda values: values["least stroke"],
        drilled=(Role.BACKER,),
        strips=(returns_of,),
    ),
    FLAT_CUT.name: Making(
        rules=(Inset(Role.PANEL, ()),),
        checks=(cutter_reaches_corners, cutter_passes_slots, part_can_be_held),
        stroke_reach=lambda values: values["small part width"],
        is_lit=False,
        carries=Role.PANEL,
        depth=lambda values: 0.0,
    ),
    CABINET_FACE.name: Making(
        rules=(Inset(Role.FACE, ("return thickness", "face clearance")),),
        checks=(cutter_reaches_corners, cutter_passes_slots, part_can_be_held, face_may_move),
        stroke_reach=lambda values: values["small part width"],
        has_film=True,
        is_lit=False,
        carries=Role.FACE,
        depth=lambda values: 0.0,
    ),
}
"""Rules and checks by the kind's name."""
