"""What one chose last is what a new job begins with: units, currency, planning time, the cutter of each material."""

from __future__ import annotations

from app.job.document import DisplayUnits, Job
from app.stock.defaults import shipped
from app.window.settings import WindowSettings


def remember_usual(before: Job, after: Job, settings: WindowSettings) -> None:
    """Keep what an edit has chosen; what it leaves alone is not the person's choice and is not kept."""
    if after.units is not before.units:
        settings.set_usual("units", after.units.value)
    if after.currency != before.currency:
        settings.set_usual("currency", after.currency)
    if after.seconds != before.seconds:
        settings.set_usual("seconds", repr(after.seconds))
    cutters = {one.id: one.cutter for one in before.materials}
    for material in after.materials:
        if material.id in cutters and material.cutter != cutters[material.id] and material.cutter in shipped().cutters:
            settings.set_usual(f"cutter of {material.id}", material.cutter)


def with_usual(job: Job, settings: WindowSettings) -> Job:
    """A new job as its owner begins them; what can no longer be had is left as the program has it."""
    from app.errors import AppError
    from app.job import edits

    job = edits.set_units(job, usual_units(settings))
    try:
        job = edits.set_currency(job, settings.usual("currency") or job.currency)
        job = edits.set_seconds(job, float(settings.usual("seconds") or job.seconds))
        for material in job.materials:
            cutter = settings.usual(f"cutter of {material.id}")
            if cutter in shipped().cutters:
                job = edits.set_material_cutter(job, material.id, cutter)
    except (AppError, ValueError):
        return job
    return job


def usual_units(settings: WindowSettings) -> DisplayUnits:
    """The units chosen last; inches to begin with."""
    value = settings.usual("units")
    return DisplayUnits(value) if value in list(DisplayUnits) else DisplayUnits.INCHES
