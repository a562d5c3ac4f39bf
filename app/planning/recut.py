"""Cutting again what was spoiled, planning anew what was not cut yet, and booking a sheet as cut."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from functools import lru_cache
from typing import Final

from app.errors import JobError
from app.fabrication.part import CutPart
from app.job.names import unknown
from app.planning.job_plan import JobPlan
from app.planning.prepare import Prepared
from app.planning.rack_stock import offcut_of
from app.stock.cut_sheets import CutPiece, JobKey, Piece, PieceStatus, Recut, SheetCut
from app.stock.rack_items import Box, Measured, NewOffcut, box_outline
from geometry.findings import Finding, Severity
from geometry.measure import region_area, region_bounds
from geometry.units import format_both
from nesting.plan import Placement

SIZE_TOLERANCE: Final = 0.05
"""mm by which a part's box may differ and still be the same part: cut files and outlines are rounded."""

AREA_TOLERANCE: Final = 0.002
"""Share of the area by which outlines with chords for curves may differ."""


OVERSIZE: Final = 101.6
"""mm by which a sheet may be larger than its planned size: sold oversize, up to 4 in (common practice)."""


class RecutCode(StrEnum):
    """Findings of this room."""

    CUT_AT_ANOTHER_SIZE = "cut-at-another-size"
    MORE_CUT_THAN_ASKED = "more-cut-than-asked"
    PLANNED_TWICE = "planned-twice"


@dataclass(frozen=True, slots=True)
class Shape:
    """What tells whether a part is still what was cut: its box and net area; mm and mm²."""

    width: float
    height: float
    area: float

    def as_text(self) -> str:
        """As it is written down with a piece."""
        return f"{self.width:.2f} x {self.height:.2f} mm, {self.area:.0f} mm2"

    def matches(self, text: str) -> bool:
        """Whether a piece written down so is this part."""
        other = _parse_shape(text)
        return (
            other is not None
            and abs(other.width - self.width) <= SIZE_TOLERANCE
            and abs(other.height - self.height) <= SIZE_TOLERANCE
            and abs(other.area - self.area) <= AREA_TOLERANCE * self.area + 1.0
        )


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """What of a job is still to be cut: the job with only those pieces, and what to say about those that are cut."""

    prepared: Prepared
    findings: tuple[Finding, ...]


@lru_cache(maxsize=4096)
def shape_of(part: CutPart) -> Shape:
    """Box and net area of a part; reckoned once."""
    bounds = region_bounds(part.region)
    return Shape(bounds.width, bounds.height, region_area(part.region))


def wanted_parts(prepared: Prepared, names: Sequence[str]) -> dict[str, int]:
    """Pieces asked for, by part id.

    Parameters
    ----------
    prepared : Prepared
    names : sequence of str
        "PART" for one piece, "PART=3" for three, or the id of a letter for one piece of each of its parts.

    Raises
    ------
    JobError
        For a name the job does not know, or more pieces than it has.
    """
    parts = {part.id: part for part in prepared.parts}
    letters: dict[str, list[str]] = {}
    for part in prepared.parts:
        letters.setdefault(part.letter, []).append(part.id)
    counts: Counter[str] = Counter()
    for name in names:
        key, pieces = _counted(name) if name not in parts and name not in letters else (name, 1)
        if key in parts:
            counts[key] += pieces
        elif key in letters:
            counts.update(dict.fromkeys(letters[key], pieces))
        else:
            said = unknown(key, [*parts, *letters], what="a part or letter of this job", listed=False)
            raise JobError(f"{said}; parts.csv of the plan lists them all")
    if not counts:
        raise JobError("no part is named; give the parts to cut again, as in 'line1-03-face line1-04-face=2'")
    for key, count in counts.items():
        if count > parts[key].quantity:
            raise JobError(f"part '{key}': {count} pieces asked for, but the job has {parts[key].quantity}")
    return dict(counts)


def only(prepared: Prepared, counts: Mapping[str, int]) -> Prepared:
    """The job with just so many pieces of each part; parts not named are left out."""
    parts = tuple(replace(part, quantity=counts[part.id]) for part in prepared.parts if counts.get(part.id, 0) > 0)
    # Strip goods are bent, not cut from sheets: they are not made again with a sheet part.
    # Locks of the kept plan are about other pieces.
    job = replace(prepared.job, plan=None)
    return Prepared(job, prepared.lettering, parts, prepared.findings, prepared.seams)


def still_to_cut(prepared: Prepared, cut: Iterable[Piece]) -> Rest:
    """The job without the good pieces that were cut: their sheets are locked, the rest can be planned anew.

    A piece counts when its part still has the size it was cut at; one that does not is told as a finding and its part
    is cut again.
    """
    parts = {part.id: part for part in prepared.parts}
    good: Counter[str] = Counter()
    changed: Counter[str] = Counter()
    for piece in cut:
        if piece.status is not PieceStatus.GOOD:
            continue
        part = parts.get(piece.part)
        if part is not None and shape_of(part).matches(piece.shape):
            good[piece.part] += 1
        else:
            changed[piece.part] += 1
    findings = [
        Finding(
            RecutCode.CUT_AT_ANOTHER_SIZE,
            Severity.WARNING,
            f"part {name}: {count} cut before do not match the job any more "
            f"({'it has another size now' if name in parts else 'the job has no such part now'}); "
            "they are not counted, set them aside",
            subject=name,
        )
        for name, count in changed.items()
    ]
    findings += [
        Finding(
            RecutCode.MORE_CUT_THAN_ASKED,
            Severity.WARNING,
            f"part {name}: {count} good pieces are cut, the job asks for {parts[name].quantity}",
            subject=name,
        )
        for name, count in good.items()
        if count > parts[name].quantity
    ]
    left = {name: part.quantity - good[name] for name, part in parts.items()}
    return Rest(only(prepared, left), tuple(findings))


def booked_as_cut(cut: SheetCut, pieces: Iterable[Piece]) -> datetime | None:
    """When a sheet with these very pieces was booked as cut, whatever the plan is called by now; None when it was not.

    A sheet that stays as it is while the rest is planned anew is still the sheet that was cut.
    """
    sheets: dict[tuple[str, int], set[tuple[str, int, str]]] = {}
    when: dict[tuple[str, int], datetime] = {}
    for piece in pieces:
        key = (piece.plan, piece.sheet)
        sheets.setdefault(key, set()).add((piece.part, piece.copy, piece.shape))
        when[key] = piece.cut_at
    mine = {(piece.part, piece.copy, piece.shape) for piece in cut.pieces}
    return next((when[key] for key, theirs in sheets.items() if theirs == mine), None)


def planned_twice(counts: Mapping[str, int], waiting: Sequence[Recut], folder: str) -> tuple[Finding, ...]:
    """What to say when pieces about to be planned wait in an earlier recut that is not cut yet, the latest first.

    Parameters
    ----------
    counts : mapping of part id to pieces
        What is about to be planned.
    waiting : sequence of Recut
        As `waiting_recuts` gives them.
    folder : str
        Where the new plan is written; an earlier one there is replaced, and so not told of.
    """
    findings = []
    for one in reversed(waiting):
        shared = [(part, min(count, counts[part])) for part, count in one.parts if counts.get(part, 0) > 0]
        if shared and one.folder != folder:
            pieces = sum(count for _, count in shared)
            words = "1 of these pieces waits" if pieces == 1 else f"{pieces} of these pieces wait"
            when = f" of {one.at:%Y-%m-%d %H:%M} UTC" if one.at else ""
            findings.append(
                Finding(
                    RecutCode.PLANNED_TWICE,
                    Severity.WARNING,
                    f"{words} in the recut{when} in '{one.folder}' too, which is not booked as cut: cut only one of "
                    "the two",
                    subject=", ".join(part for part, _ in shared),
                )
            )
    return tuple(findings)


def surplus(prepared: Prepared, pieces: Iterable[Piece], booked: SheetCut) -> tuple[Finding, ...]:
    """What to say after a sheet was booked: parts on it of which more good pieces are cut now than the job asks for."""
    on_it = {piece.part for piece in booked.pieces}
    found = still_to_cut(prepared, pieces).findings
    return tuple(one for one in found if one.code == RecutCode.MORE_CUT_THAN_ASKED and one.subject in on_it)


def is_cut_elsewhere(pieces: Iterable[Piece], booked: SheetCut) -> bool:
    """Whether good pieces of a sheet's parts were cut from another plan: then some may be cut twice."""
    on_it = {piece.part for piece in booked.pieces}
    return any(
        piece.plan != booked.plan and piece.part in on_it and piece.status is PieceStatus.GOOD for piece in pieces
    )


def plan_digest(sheets: Iterable[tuple[str, Sequence[Placement]]]) -> str:
    """What a plan is known by: the same layouts on the same stock give the same digest.

    Parameters
    ----------
    sheets : iterable of (stock id, placements)
        In the order of the plan.
    """
    digest = hashlib.sha256()
    for stock, placements in sheets:
        digest.update(f"{stock}\n".encode())
        for one in placements:
            digest.update(
                f"{one.part}\t{one.copy}\t{one.x:.4f}\t{one.y:.4f}\t{one.rotation:.4f}\t{one.mirrored}\n".encode()
            )
    return digest.hexdigest()[:32]


def digest_of(plan: JobPlan) -> str:
    """Digest of a plan in memory."""
    return plan_digest((sheet.stock.id, [placed.placement for placed in sheet.placed]) for sheet in plan.sheets)


def sheet_cut(
    plan: JobPlan,
    number: int,
    job: JobKey,
    *,
    measured: Mapping[int, Measured] | None = None,
    slots: Mapping[int, str] | None = None,
    lot: str = "",
) -> SheetCut:
    """What is booked when a sheet of a plan was cut.

    Parameters
    ----------
    plan : JobPlan
    number : int
        Of the sheet, from 1.
    job : JobKey
    measured, slots : mapping, optional
        Size found on an offcut, and its place on the rack, by its index on the sheet (0-based).
    lot : str
        Of the sheet's material, handed on to its offcuts.

    Raises
    ------
    JobError
        When the plan has no such sheet, or the sheet no such offcut.
    """
    sheet = next((one for one in plan.sheets if one.number == number), None)
    if sheet is None:
        raise JobError(f"the plan has no sheet {number}; it has 1 to {len(plan.sheets)}")
    return SheetCut(
        job=job,
        plan=digest_of(plan),
        number=number,
        stock=sheet.stock.id,
        material=sheet.material.id,
        offcut=offcut_of(sheet.stock.id),
        pieces=tuple(
            CutPiece(placed.part.id, placed.placement.copy, shape_of(placed.part).as_text()) for placed in sheet.placed
        ),
        offcuts=kept_offcuts(
            [(offcut.width, offcut.height) for offcut in sheet.offcuts],
            room=(sheet.stock.width, sheet.stock.height),
            material=sheet.material.id,
            thickness=sheet.material.thickness,
            job=job.name,
            sheet=number,
            measured=measured or {},
            slots=slots or {},
            lot=lot,
        ),
    )


def kept_offcuts(
    sizes: Sequence[tuple[float, float]],
    *,
    room: tuple[float, float],
    material: str,
    thickness: float,
    job: str,
    sheet: int,
    measured: Mapping[int, Measured],
    slots: Mapping[int, str],
    lot: str,
) -> tuple[NewOffcut, ...]:
    """The rectangles left of a sheet as pieces for the rack; `measured` and `slots` by index, 0-based.

    `room` is the sheet's width and height, mm: no piece of it can measure more, but for what sheets are oversize.

    Raises
    ------
    JobError
        When a measure or a slot is for an offcut the sheet does not have, or a measure is larger than the sheet.
    """
    for index in (*measured, *slots):
        if not 0 <= index < len(sizes):
            raise JobError(f"sheet {sheet} has {len(sizes)} offcuts to keep, there is no offcut {index + 1}")
    longest, widest = (side + OVERSIZE for side in sorted(room, reverse=True))
    for index, size in measured.items():
        if max(size.width, size.height) > longest or min(size.width, size.height) > widest:
            raise JobError(
                f"offcut {index + 1} of sheet {sheet} cannot measure {format_both(size.width)} × "
                f"{format_both(size.height)}: its whole sheet is {format_both(room[0])} × {format_both(room[1])}; "
                "measure it again"
            )
    return tuple(
        NewOffcut(
            material=material,
            thickness=thickness,
            outline=box_outline(width, height),
            usable=Box(0.0, 0.0, width, height),
            lot=lot,
            slot=slots.get(index, ""),
            job=job,
            note=f"sheet {sheet}",
            measured=measured.get(index),
        )
        for index, (width, height) in enumerate(sizes)
    )


def _counted(name: str) -> tuple[str, int]:
    key, sign, count = name.rpartition("=")
    if not sign:
        return name, 1
    if not (count.isascii() and count.isdigit() and int(count) >= 1):
        raise JobError(f"'{name}': '{count}' is no number of pieces; write it like '{key}=2'")
    return key, int(count)


def _parse_shape(text: str) -> Shape | None:
    words = text.replace(",", "").split()
    try:
        return Shape(float(words[0]), float(words[2]), float(words[4]))
    except (IndexError, ValueError):
        return None
