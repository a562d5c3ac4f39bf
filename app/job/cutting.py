"""How the parts of a job are cut: what the operator chooses. Every default is common practice and can be changed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

MARK: Final = "common practice"
"""Where the defaults come from."""

INCH: Final = 25.4


class Direction(StrEnum):
    """Which way the cutter goes round; with the spindle turning clockwise (M3)."""

    CLIMB = "climb"
    CONVENTIONAL = "conventional"


class Lead(StrEnum):
    """How the cutter comes to its path."""

    ARC = "arc"
    RAMP = "ramp"


class Hold(StrEnum):
    """What keeps small parts and drops from coming loose."""

    TABS = "tabs"
    SKIN = "skin"
    NONE = "none"


class DxfVersion(StrEnum):
    """Version of the cut files."""

    R2010 = "R2010"
    R12 = "R12"


class Page(StrEnum):
    """Paper of report and labels."""

    BY_UNITS = "by units"
    LETTER = "letter"
    A4 = "a4"


@dataclass(frozen=True, slots=True)
class MaterialFeed:
    """Feed (mm/min) and depth of one pass (mm) the shop uses on a material, instead of the usual ones."""

    material: str
    feed: float
    depth: float


@dataclass(frozen=True, slots=True)
class Cutting:
    """How a job is cut.

    Fields
    ------
    paths : bool
        Whether cut files hold the cutter's centre paths beside the finished edges.
    direction : Direction
    lead : Lead
        An arc on the scrap side where one fits; else, or when chosen, a ramp along the path itself.
    lead_radius : float
        Radius of the lead arc in cutter radii; at least 1.
    ramp_angle : float
        Degrees between ramp and sheet.
    hold : Hold
        For small parts and for the drops of holes.
    tab_width : float
        Material left at a tab, mm, measured along the edge.
    tab_thickness : float
        Material left under the cutter at a tab, mm; at most the sheet's.
    skin : float
        Material left under small parts and drops, mm.
    shares_cuts : bool
        Whether two parts one cutter's width apart share the straight cut between them.
    dxf_version : DxfVersion
    page : Page
        By units: Letter for jobs in inches, A4 for jobs in millimetres.
    rapid : float
        Speed in the air, mm/min.
    acceleration : float
        mm/s²
    feeds : tuple of MaterialFeed
        Only for the time shown; never a machine setting.
    """

    paths: bool = False
    direction: Direction = Direction.CLIMB
    lead: Lead = Lead.ARC
    lead_radius: float = 1.0
    ramp_angle: float = 4.0
    hold: Hold = Hold.TABS
    tab_width: float = 0.25 * INCH
    tab_thickness: float = 0.04 * INCH
    skin: float = 0.015 * INCH
    shares_cuts: bool = False
    dxf_version: DxfVersion = DxfVersion.R2010
    page: Page = Page.BY_UNITS
    rapid: float = 15_000.0
    acceleration: float = 1_000.0
    feeds: tuple[MaterialFeed, ...] = ()


USUAL: Final = Cutting()
"""All defaults."""
