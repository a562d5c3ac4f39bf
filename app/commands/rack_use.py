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
    """As `app.planning.rack_stock.reserved`; the rack is not opened for a plan that uses none of it."""
    from app.planning.rack_stock import offcuts_used, reserved

    if not offcuts_used(plan):
        yield ()
        return
    with open_rack(chosen) as rack, reserved(rack, plan, job) as numbers:
        yield numbers
