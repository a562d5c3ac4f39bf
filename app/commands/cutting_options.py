"""Options that say how a job is cut, over what its file says."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.job.document import Job


def add_cutting(parser: argparse.ArgumentParser) -> None:
    """`--paths`, `--direction`, `--lead`, `--hold`, `--share-cuts`, `--dxf-version`, `--page`."""
    group = parser.add_argument_group("cutting", "The job's own choices hold where these are left out.")
    group.add_argument(
        "--paths", action="store_true", help="add the way of the cutter's middle, with leads and tabs, on PATH layers"
    )
    group.add_argument("--direction", choices=("climb", "conventional"), help="which way the cutter goes round")
    group.add_argument("--lead", choices=("arc", "ramp"), help="how the cutter comes to its path")
    group.add_argument("--hold", choices=("tabs", "skin", "none"), help="what holds small parts and drops")
    group.add_argument(
        "--share-cuts", action="store_true", help="cut once between parts that lie one cutter's width apart"
    )
    group.add_argument("--dxf-version", choices=("R2010", "R12"), help="version of the cut files; R12 for old controls")
    group.add_argument("--page", choices=("letter", "a4"), help="paper of report and labels (by the units otherwise)")


def with_cutting(chosen: argparse.Namespace, job: Job) -> Job:
    """The job with what the options say about cutting."""
    from app.job.cutting import Direction, DxfVersion, Hold, Lead, Page

    own = job.cutting
    return replace(
        job,
        cutting=replace(
            own,
            paths=chosen.paths or own.paths,
            direction=Direction(chosen.direction or own.direction),
            lead=Lead(chosen.lead or own.lead),
            hold=Hold(chosen.hold or own.hold),
            shares_cuts=chosen.share_cuts or own.shares_cuts,
            dxf_version=DxfVersion(chosen.dxf_version or own.dxf_version),
            page=Page(chosen.page or own.page),
        ),
    )
