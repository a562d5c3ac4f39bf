"""What the operator must know to cut a sheet: how it is meant to be cut, what to hold, what to watch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from app.cutting.feeds import SPINDLE, sheet_feed
from app.cutting.leads import Entry
from app.cutting.operations import Work
from app.cutting.vacuum import holding_force, usual_vacuum
from app.job.cutting import Direction, Hold, Lead
from app.job.document import DisplayUnits
from app.output.cut_sheet import CutSheet
from app.output.words import offcut_name, thickness_text
from geometry.measure import region_area
from geometry.units import MM_PER, format_length

_N_PER_LBF: Final = 4.4482216
_NAMED: Final = 12
"""Parts named in one note; the others are counted."""


def minutes_text(seconds: float) -> str:
    """A time people plan by: whole minutes, hours from ninety minutes up."""
    minutes = max(1, round(seconds / 60))
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60:02d} min"


def how_to_cut(cut: CutSheet) -> str:
    """Direction, leads, passes and time, in two sentences or three."""
    cutting, time = cut.cutting, cut.time
    feed = time.feed
    is_climb = cutting.direction is Direction.CLIMB
    way = "climb: G41, clockwise outside" if is_climb else "conventional: G42, anticlockwise outside"
    lead = "arc leads" if cutting.lead is Lead.ARC else "ramps along the path"
    passes = f"{feed.passes} {'pass' if feed.passes == 1 else 'passes'} of {thickness_text(feed.depth)}"
    rate = f"{feed.feed / MM_PER['in']:,.0f} in/min ({feed.feed:,.0f} mm/min)"
    chip = f"{feed.chip / MM_PER['in']:.4f} in ({feed.chip:.3f} mm) a tooth at {SPINDLE:,.0f} rpm with one flute"
    usual = ""
    if feed.usual_chip is not None:
        low, high = feed.usual_chip
        usual = f", usual {low / MM_PER['in']:.3f} to {high / MM_PER['in']:.3f} in"
    return (
        f"Spindle clockwise (M3), {way}; {lead}. About {minutes_text(time.total_s)} with moves in the air "
        f"({minutes_text(time.cutting_s)} in the material), reckoned with {passes} at {rate}: {chip}{usual} "
        f"({feed.mark}). "
        "A calculated note, not a setting: the tool maker's data and a test cut govern."
    )


def holding(cut: CutSheet, units: DisplayUnits) -> str:
    """What is held how; empty when nothing needs it."""
    cutting = cut.cutting
    said = []
    tabs, skins = cut.held_by(Hold.TABS), cut.held_by(Hold.SKIN)
    if tabs:
        width = format_length(cutting.tab_width, units.value)
        thick = thickness_text(min(cutting.tab_thickness, cut.planned.material.thickness))
        said.append(f"tabs {width} wide, {thick} thick, at the black bars: {_some(tabs)}")
    if skins:
        said.append(f"leave a skin of {thickness_text(cutting.skin)}: {_some(skins)}")
    if cutting.hold is Hold.NONE:
        said.append("nothing is held by tabs or skin, as this job asks: use tape or vacuum for small parts and drops")
    return "; ".join(said)


def cautions(cut: CutSheet, units: DisplayUnits) -> tuple[str, ...]:
    """What to watch on this sheet, the gravest first."""
    return tuple(_cautions(cut, units))


def _cautions(cut: CutSheet, units: DisplayUnits) -> Iterator[str]:
    sheet = cut.planned

    def length(mm: float) -> str:
        return format_length(mm, units.value)

    for hit in cut.swept.clamp_hits:
        zone = sheet.stock.keep_outs[hit.zone]
        yield (
            f"The cutter passes {length(hit.depth)} into the keep-out '{zone.reason or 'clamp or flaw'}' at "
            f"{length(zone.x)}, {length(zone.y)} while cutting {_name(cut, hit.operation)}: move the clamp"
        )
    for gouge in cut.swept.offcut_gouges:
        name = offcut_name(sheet.number, gouge.kept)
        yield (
            f"Cutting {_name(cut, gouge.operation)} takes {length(gouge.depth)} off the edge of offcut {name}: "
            "measure it before it goes on the rack"
        )
    closed = [i for i, one in enumerate(cut.operations) if one.work in (Work.INSIDE, Work.OUTSIDE) and not one.ways]
    if closed and not cut.cutting.shares_cuts:
        yield f"Narrower than the cutter, not cut on the PATH layers: {_some([_name(cut, i) for i in closed])}"
    plunges, ramps = _entries(cut, Entry.PLUNGE), _entries(cut, Entry.RAMP)
    if plunges:
        yield f"No lead fits: {_some(plunges)}; drill first, or plunge with a cutter that cuts at its end"
    if ramps and cut.cutting.lead is Lead.ARC:
        yield f"No arc lead is clear of its neighbours: {_some(ramps)}; the cutter ramps in along the path"
    crowded = [_name(cut, i) for i, one in enumerate(cut.operations) if any(way.is_crowded for way in one.ways)]
    if crowded:
        yield f"Too small for tabs, leave a skin: {_some(crowded)}"
    remains = sorted(cut.remains, key=lambda one: -one.largest)
    if remains:
        worst = remains[0]
        place = max(worst.remains, key=lambda one: one.gap)
        parts = [
            f"{cut.number_of[one.part, one.copy]} ({len(one.remains)}, to {length(one.largest)})" for one in remains
        ]
        yield (
            f"Uncut where the cutter is too large, finish by hand (part, places, widest gap): {_some(parts)}. "
            f"The widest is at {length(place.at[0])}, {length(place.at[1])} from zero"
        )
    feed = sheet_feed(sheet.material, sheet.cutter, cut.cutting)
    if feed.rubs:
        yield "The chip is so thin that the cutter rubs: feed faster or turn slower"
    areas = [(region_area(piece.part.region), piece.number) for piece in cut.pieces]
    if areas:
        area, number = min(areas)
        down, aside = holding_force(area, usual_vacuum())
        yield (
            f"Vacuum alone holds the smallest part, {number}, with {down:,.0f} N ({down / _N_PER_LBF:,.0f} lbf) down "
            f"and {aside:,.0f} N ({aside / _N_PER_LBF:,.0f} lbf) sideways at 20 inHg, less where it leaks"
        )


def _entries(cut: CutSheet, entry: Entry) -> list[str]:
    return [_name(cut, i) for i, one in enumerate(cut.operations) if any(way.entry is entry for way in one.ways)]


def _name(cut: CutSheet, index: int) -> str:
    one = cut.operations[index]
    if one.work is Work.OFFCUT:
        return "an offcut line"
    number = cut.number_of[one.part, one.copy]
    return f"a hole of {number}" if one.work is Work.INSIDE else str(number)


def _some(names: Sequence[str]) -> str:
    shown = list(dict.fromkeys(names))
    more = len(shown) - _NAMED
    return ", ".join(shown[:_NAMED]) + (f" and {more} more" if more > 0 else "")
