"""Planning on the rack's offcuts: which a job may use, and holding those that a plan uses."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from app.commands.options import open_rack, rack_is_there

if TYPE_CHECKING:
    from app.job.document import Job
    from app.planning.job_plan import JobPlan


def job_with_rack(chosen: argparse.Namespace, job: Job) -> Job:
    """The job with the offcuts it may use among its stock."""
    from app.planning.rack_stock import with_rack

    if not rack_is_there(chosen):
        return job
    with open_rack(chosen) as rack:
        return with_rack(job, rack)


@contextmanager
def pieces_reserved(chosen: argparse.Namespace, plan: JobPlan, job: str) -> Iterator[tuple[int, ...]]:
    """Within, the offcuts a plan uses are reserved for the job; they stay so unless the work inside fails.

    Raises
    ------
    RackError
        When another program was quicker with one of them: the plan must then be made again.
    """
    from app.planning.rack_stock import offcut_of

    numbers = tuple(number for sheet in plan.sheets if (number := offcut_of(sheet.stock.id)) is not None)
    if not numbers:
        yield ()
        return
    with open_rack(chosen) as rack:
        before = {number for number in numbers if rack.offcut(number).reserved_for == job}
        rack.reserve(numbers, job)
        try:
            yield numbers
        except BaseException:
            rack.release(number for number in numbers if number not in before)
            raise
