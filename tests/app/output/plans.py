"""Job plans laid out by hand, so that output can be tested without the planner. All names are invented."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from app.artwork.drawing import Letter, Lettering, Source
from app.fabrication.part import CutPart, Drill, Role
from app.job.document import Artwork, Build, DisplayUnits, Job, Text
from app.planning.job_plan import JobPlan, MaterialSummary, Offcut, PlacedPart, PlannedSheet, UnplacedPart
from app.stock.book import Cutter, KeepOut, Material, MaterialKind, StockSheet
from geometry.arcs import arc_from_centre, circle
from geometry.build import closed, open_chain, polygon, rectangle, region
from geometry.contour import Contour, Region
from geometry.curve import Arc, Line
from geometry.findings import Finding, Severity
from geometry.measure import region_area, region_bounds
from nesting.plan import Placement

INCH = 25.4

ALUMINIUM = Material(
    "al-3003-0.063",
    "aluminium 3003-H14 0.063 in",
    MaterialKind.ALUMINIUM,
    0.063 * INCH,
    2730.0,
    "quarter",
    0.125 * INCH,
    0.5 * INCH,
)
ACRYLIC = Material(
    "acrylic-4.5",
    "cast acrylic, white, 4.5 mm",
    MaterialKind.ACRYLIC,
    4.5,
    1190.0,
    "six",
    3.0,
    10.0,
    has_grain=False,
    sides_alike=True,
)
QUARTER = Cutter("quarter", "1/4 in single flute", 0.25 * INCH)
SIX = Cutter("six", "6 mm single flute", 6.0)
SHEET_48_96 = StockSheet(
    "al-96x48",
    "al-3003-0.063",
    "96 x 48",
    96 * INCH,
    48 * INCH,
    price=9_850,
    keep_outs=(
        KeepOut(0.0, 20 * INCH, 2 * INCH, 4 * INCH, "clamp"),
        KeepOut(94 * INCH, 20 * INCH, 2 * INCH, 4 * INCH, "clamp"),
    ),
)
SHEET_2050 = StockSheet("ac-2050x1500", "acrylic-4.5", "2050 x 1500", 2050.0, 1500.0, count=3, price=21_400)


def ring(outer: float, inner: float) -> Region:
    """A ring by its diameters, its own frame's lower left at the bounds; mm."""
    middle = (outer / 2, outer / 2)
    return region(circle(middle, outer / 2), [circle(middle, inner / 2)])


def rounded(width: float, height: float, radius: float) -> Contour:
    """A rectangle with rounded corners, mm."""
    segments: list[Line | Arc] = []
    corners = [
        ((width - radius, radius), -90.0),
        ((width - radius, height - radius), 0.0),
        ((radius, height - radius), 90.0),
        ((radius, radius), 180.0),
    ]
    arcs = [arc_from_centre(centre, radius, start, 90.0) for centre, start in corners]
    for arc, following in zip(arcs, arcs[1:] + arcs[:1], strict=True):
        assert isinstance(arc, Arc)
        assert isinstance(following, Arc)
        segments += [arc, Line(arc.end, following.start)]
    return closed(segments)


def letter_l(height: float, stroke: float) -> Contour:
    """The letter L, mm."""
    width = 0.62 * height
    return polygon([(0, 0), (width, 0), (width, stroke), (stroke, stroke), (stroke, height), (0, height)])


def letter_e(height: float, stroke: float) -> Contour:
    """The letter E, mm."""
    w, s, h, m = 0.6 * height, stroke, height, (height - stroke) / 2
    points = [(0, 0), (w, 0), (w, s), (s, s), (s, m), (0.9 * w, m), (0.9 * w, m + s), (s, m + s), (s, h - s)]
    return polygon([*points, (w, h - s), (w, h), (0, h)])


def letter_d(height: float, stroke: float) -> Region:
    """The letter D with its counter: straight back, half-round front, mm."""
    radius = height / 2
    outer = closed([*_half_round(radius, radius, 0.0), Line((radius, height), (0.0, height))])
    inner = radius - stroke
    hole = closed(
        [*_half_round(radius, inner, stroke), Line((radius, height - stroke), (stroke, height - stroke))],
    )
    return region(outer, [hole])


def _half_round(radius: float, inner: float, left: float) -> list[Line | Arc]:
    low, high = radius - inner, radius + inner
    return [
        Line((left, high), (left, low)),
        Line((left, low), (radius, low)),
        Arc((radius, low), (radius, high), 1.0),
    ]


def part(
    id_: str,
    shape: Region | Contour,
    *,
    role: Role = Role.FACE,
    material: Material = ALUMINIUM,
    quantity: int = 1,
    name: str = "",
    letter: str = "",
    drills: Sequence[Drill] = (),
    marks: Sequence[Contour] = (),
) -> CutPart:
    """A part of a shape."""
    letter = letter or id_.rsplit("-", 1)[0]
    made = shape if isinstance(shape, Region) else Region(shape)
    return CutPart(
        id_,
        role,
        letter,
        name or id_,
        material.id,
        quantity,
        made,
        (0.0, 0.0),
        drills=tuple(drills),
        marks=tuple(marks),
    )


def put(
    one: CutPart, x: float, y: float, *, copy: int = 0, rotation: float = 0.0, mirrored: bool = False
) -> PlacedPart:
    """A copy whose own origin goes to (x, y)."""
    return PlacedPart(one, Placement(one.id, copy, x, y, rotation, mirrored))


def put_centred(one: CutPart, x: float, y: float, *, copy: int = 0) -> PlacedPart:
    """A copy whose bounds are centred on (x, y)."""
    middle = region_bounds(one.region).centre
    return put(one, x - middle[0], y - middle[1], copy=copy)


def sheet(
    number: int,
    material: Material,
    cutter: Cutter,
    stock: StockSheet,
    placed: Iterable[PlacedPart],
    offcuts: Sequence[Offcut] = (),
) -> PlannedSheet:
    """A sheet with the spacing of its cutter and material."""
    return PlannedSheet(
        number,
        f"{number:02d}-{material.id.replace('.', '-')}.dxf",
        material,
        cutter,
        stock,
        cutter.diameter + material.web,
        material.margin,
        tuple(placed),
        tuple(offcuts),
    )


def summary(material: Material, sheets: Sequence[PlannedSheet], least: int, reason: str) -> MaterialSummary:
    """Figures of a material, from the definitions in trade.md 6.1."""
    mine = [one for one in sheets if one.material == material]
    parts = sum(region_area(placed.part.region) for one in mine for placed in one.placed)
    stock = sum(one.stock.width * one.stock.height for one in mine)
    kept = sum(offcut.width * offcut.height for one in mine for offcut in one.offcuts)
    kg = material.thickness * material.density * 1e-9
    return MaterialSummary(
        material.id,
        len(mine),
        parts,
        stock,
        kept,
        parts / stock if stock else 0.0,
        (parts + kept) / stock if stock else 0.0,
        sum(one.stock.price or 0 for one in mine),
        stock * kg,
        (stock - parts - kept) * kg,
        least,
        reason,
    )


def sign_plan(units: DisplayUnits = DisplayUnits.INCHES) -> JobPlan:
    """The word LED O on two sheets: rings with guests in their drops, holes, marks, clamps, an offcut, one unplaced."""
    o = part("line1-01-retainer", ring(24 * INCH, 21.5 * INCH), role=Role.RETAINER, name="O retainer")
    counter = part(
        "line1-01-counter", ring(14.5 * INCH, 12 * INCH), role=Role.COUNTER_RETAINER, name="O counter retainer"
    )
    plate = part("line1-01-plate", rounded(3 * INCH, 2 * INCH, 0.25 * INCH), role=Role.SPLICE_PLATE, quantity=4)
    el = part(
        "line1-02-backer",
        letter_l(24 * INCH, 5 * INCH),
        role=Role.BACKER,
        name="L backer",
        drills=[Drill((2.5 * INCH, 2.5 * INCH), 0.25 * INCH), Drill((2.5 * INCH, 21 * INCH), 0.25 * INCH)],
        marks=[open_chain([Line((1 * INCH, 5 * INCH), (4 * INCH, 5 * INCH))])],
    )
    e = part("line1-03-backer", letter_e(24 * INCH, 4.5 * INCH), role=Role.BACKER, name="E backer")
    d = part("line1-04-backer", letter_d(24 * INCH, 5 * INCH), role=Role.BACKER, name="D backer")
    middle = (14 * INCH, 14 * INCH)
    first = sheet(
        1,
        ALUMINIUM,
        QUARTER,
        SHEET_48_96,
        [
            put_centred(o, *middle),
            put_centred(counter, *middle),
            put_centred(plate, middle[0], middle[1] - 2 * INCH, copy=0),
            put_centred(plate, middle[0], middle[1] + 2 * INCH, copy=1),
            put(plate, 3 * INCH, 43 * INCH, copy=2),
            put(plate, 9 * INCH, 43 * INCH, copy=3, rotation=0.0),
            put(el, 27 * INCH, 1 * INCH),
            put(e, 43 * INCH, 1 * INCH),
            put(d, 84 * INCH, 1 * INCH, mirrored=True),
        ],
        [Offcut(16 * INCH, 27 * INCH, 76 * INCH, 20.5 * INCH, is_strip=False)],
    )
    face_d = part("line1-04-face", letter_d(600.0, 120.0), material=ACRYLIC, name="D face", quantity=2)
    face_e = part("line1-03-face", letter_e(600.0, 110.0), material=ACRYLIC, name="E face")
    second = sheet(
        2,
        ACRYLIC,
        SIX,
        SHEET_2050,
        [
            put(face_d, 20.0, 20.0),
            put(face_d, 620.0, 1250.0, copy=1, rotation=180.0),
            put(face_e, 1100.0, 20.0, rotation=37.5),
        ],
        [Offcut(1400.0, 0.0, 650.0, 1500.0, is_strip=True)],
    )
    sheets = (first, second)
    parts = (o, counter, plate, el, e, d, face_d, face_e)
    job = _job(units, "Lamp house canopy")
    letters = tuple(
        Letter(f"line1-0{index}", name, "line1", (shape,), Source("sign.svg"))
        for index, (name, shape) in enumerate(
            [
                ("O", ring(24 * INCH, 12 * INCH)),
                ("L", Region(letter_l(24 * INCH, 5 * INCH))),
                ("E", Region(letter_e(24 * INCH, 4.5 * INCH))),
                ("D", letter_d(24 * INCH, 5 * INCH)),
            ],
            start=1,
        )
    )
    return JobPlan(
        job=job,
        lettering=(Lettering("line1", letters, 90 * INCH, 24 * INCH, 24 * INCH, 1.0, ()),),
        parts=parts,
        sheets=sheets,
        unplaced=(UnplacedPart("line1-05-face", 0, "larger than any sheet of its material: 130 x 90 in"),),
        summaries=(
            summary(ALUMINIUM, sheets, 1, "proven fewest: the parts need more than no sheet"),
            summary(ACRYLIC, sheets, 1, "proven fewest: the parts need more than no sheet"),
        ),
        findings=(
            Finding(
                "thin-stroke",
                Severity.WARNING,
                "letter E: stroke of 1.2 in is below the 1.5 in that lamps need; widen it or light it from behind",
                (12.0, 40.0),
                subject="line1-03",
            ),
            Finding("closed-gap", Severity.NOTE, "letter L: a gap of 0.02 mm was closed", (0.0, 0.0), True, "line1-02"),
            Finding("too-large", Severity.ERROR, "part line1-05-face fits no sheet", None, subject="line1-05"),
        ),
        seed=7,
        rounds=120,
        seconds=3.2,
    )


def many_plan(
    count: int = 60, *, units: DisplayUnits = DisplayUnits.MILLIMETRES, size: float = 150.0, name: str = "many"
) -> JobPlan:
    """`count` parts in rows on one sheet of 3000 x 1500, or as many sheets as they need; kinds take turns."""
    stock = StockSheet("al-3000x1500", "al-3003-0.063", "3000 x 1500", 3000.0, 1500.0)
    gap, margin = 12.0, 15.0
    shapes: list[Region] = [
        ring(size, size * 0.7),
        Region(letter_l(size, size * 0.2)),
        letter_d(size, size * 0.25),
        Region(letter_e(size, size * 0.18)),
        Region(rounded(size, size * 0.5, size * 0.1)),
        _star(size),
    ]
    parts = [
        part(f"line{1 + index // 10}-{index % 10 + 1:02d}-{name}", shapes[index % len(shapes)])
        for index in range(count)
    ]
    sheets: list[list[PlacedPart]] = [[]]
    x = y = margin
    for one in parts:
        if x + size > stock.width - margin:
            x, y = margin, y + size + gap
        if y + size > stock.height - margin:
            sheets.append([])
            x = y = margin
        sheets[-1].append(put(one, x, y))
        x += size + gap
    planned = tuple(sheet(number, ALUMINIUM, QUARTER, stock, placed) for number, placed in enumerate(sheets, start=1))
    return JobPlan(
        job=_job(units, "Row of many"),
        lettering=(),
        parts=tuple(parts),
        sheets=planned,
        unplaced=(),
        summaries=(summary(ALUMINIUM, planned, 1, "proven fewest: the parts need more than no sheet"),),
        findings=(),
        seed=0,
        rounds=10,
        seconds=0.5,
    )


def _star(size: float) -> Region:
    points = []
    for index in range(10):
        radius = size / 2 if index % 2 == 0 else size / 5
        turn = math.radians(90 + 36 * index)
        points.append((size / 2 + radius * math.cos(turn), size / 2 + radius * math.sin(turn)))
    return region(polygon(points))


def disc(diameter: float) -> Region:
    """A disc, mm."""
    return Region(circle((diameter / 2, diameter / 2), diameter / 2))


def block(width: float, height: float) -> Region:
    """A rectangle, mm."""
    return Region(rectangle(width, height))


def _job(units: DisplayUnits, name: str) -> Job:
    return Job(
        name=name,
        artwork=(Artwork("line1", "line 1", "faces", text=Text("OLED", "sign.ttf")),),
        builds=(Build("faces", "face-lit", "face-lit", (("face", ACRYLIC.id), ("backer", ALUMINIUM.id))),),
        materials=(ALUMINIUM, ACRYLIC),
        cutters=(QUARTER, SIX),
        stock=(SHEET_48_96, SHEET_2050),
        units=units,
        notes="Deliver to the yard gate.",
    )
