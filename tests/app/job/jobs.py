"""Strategies for whole jobs that agree with themselves, and a small job by hand."""

from __future__ import annotations

import math
from dataclasses import replace

from hypothesis import strategies as st

from app.job.document import Align, Artwork, Build, DisplayUnits, Job, LetterSeams, Scale, ScaleBy, Seam, Text
from app.job.kinds import KINDS
from app.job.settings import SETTINGS
from app.stock.book import Cutter, KeepOut, Material, MaterialKind, StockSheet
from app.stock.defaults import shipped

KIND = "face-lit with retainer"

lengths = st.one_of(
    st.floats(1e-3, 1e5),
    st.integers(1, 5000).map(lambda n: n * 25.4 / 64.0),  # fractions of an inch, one rounding away
    st.integers(1, 5000).map(float),
)
spots = st.floats(-1e6, 1e6)
sizes = st.one_of(st.floats(200.0, 1e4), st.integers(200, 5000).map(float))
words = st.text(min_size=0, max_size=30)
ids = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), min_size=1, max_size=20)


def id_lists(most: int) -> st.SearchStrategy[list[str]]:
    return st.lists(ids, min_size=1, max_size=most, unique=True)


@st.composite
def settings_of(draw) -> tuple[tuple[str, float], ...]:
    free = [name for name in SETTINGS if name not in {one for pair in KINDS[KIND].ordered for one in pair[:2]}]
    names = draw(st.lists(st.sampled_from(free), unique=True, max_size=6))
    found = []
    for name in names:
        setting = SETTINGS[name]
        value = draw(st.floats(setting.least, setting.most).filter(lambda number: number == 0.0 or abs(number) > 1e-9))
        found.append((name, value))
    return tuple(found)


@st.composite
def jobs(draw) -> Job:
    book = shipped()
    cutters = [Cutter(one, draw(words), draw(lengths)) for one in draw(id_lists(3)) if one not in book.cutters]
    cutters += draw(st.lists(st.sampled_from(list(book.cutters.values())), min_size=1, unique=True, max_size=3))
    materials = [
        Material(
            id=one,
            name=draw(words),
            kind=draw(st.sampled_from(MaterialKind)),
            thickness=draw(lengths),
            density=draw(st.floats(1.0, 20_000.0)),
            cutter=draw(st.sampled_from(cutters)).id,
            web=draw(st.one_of(st.just(0.0), lengths)),
            margin=draw(st.floats(0.01, 99.0)),
            has_grain=draw(st.booleans()),
            sides_alike=draw(st.booleans()),
        )
        for one in draw(id_lists(3))
        if one not in book.materials
    ]
    materials += [
        one
        for one in draw(st.lists(st.sampled_from(list(book.materials.values())), unique=True, min_size=1, max_size=2))
        if one.cutter in {cutter.id for cutter in cutters}
    ]
    if not materials:
        materials = [Material("own", "", MaterialKind.PVC, 3.0, 500.0, cutters[0].id, 0.0, 1.0)]
    currency = draw(st.sampled_from(("USD", "EUR", "JPY", "KWD")))
    stock = [draw(sheets(one, materials)) for one in draw(id_lists(3)) if one not in book.stock]
    shelf = [one for one in book.stock_in(currency).values() if one.material in {own.id for own in materials}]
    if shelf:
        stock += draw(st.lists(st.sampled_from(shelf), unique=True, max_size=3))
    builds = [
        Build(
            one,
            draw(words),
            KIND,
            tuple((role, draw(st.sampled_from(materials)).id) for role in ("backer", "face", "retainer")),
            draw(settings_of()),
        )
        for one in draw(id_lists(2))
    ]
    return Job(
        name=draw(words),
        artwork=tuple(draw(artworks(one, builds)) for one in draw(id_lists(3))),
        builds=tuple(builds),
        materials=tuple(materials),
        cutters=tuple(cutters),
        stock=tuple(stock),
        units=draw(st.sampled_from(DisplayUnits)),
        currency=currency,
        may_nest_in_holes=draw(st.booleans()),
        seconds=draw(st.floats(0.0, 1e5)),
        seed=draw(st.integers(0, 2**63)),
        seams=draw(own_seams()),
        notes=draw(words),
    )


@st.composite
def own_seams(draw) -> tuple[LetterSeams, ...]:
    places = st.one_of(
        st.floats(-1e4, 1e4).map(lambda mm: round(mm, 4) + 0.0), st.integers(0, 5000).map(lambda n: n * 25.4 / 64.0)
    )
    points = st.tuples(places, places)
    seams = st.builds(Seam, points, points).filter(lambda seam: math.dist(seam.start, seam.end) >= 1.0)
    parts = st.tuples(ids, st.sampled_from(("backer", "face", "retainer")))
    found = draw(st.dictionaries(parts, st.lists(seams, max_size=3), max_size=2))
    return tuple(LetterSeams(letter, part, tuple(chosen)) for (letter, part), chosen in found.items())


@st.composite
def sheets(draw, one: str, materials: list[Material]) -> StockSheet:
    width, height = draw(sizes), draw(sizes)
    zones = draw(st.lists(st.tuples(st.floats(0.001, 0.4), st.floats(0.001, 0.4), words), max_size=2))
    return StockSheet(
        id=one,
        material=draw(st.sampled_from(materials)).id,
        name=draw(words),
        width=width,
        height=height,
        count=draw(st.one_of(st.none(), st.integers(0, 100))),
        price=draw(st.one_of(st.none(), st.integers(0, 10**9))),
        keep_outs=tuple(KeepOut(a * width, b * height, b * width, a * height, reason) for a, b, reason in zones),
    )


@st.composite
def artworks(draw, one: str, builds: list[Build]) -> Artwork:
    is_text = draw(st.booleans())
    by = draw(st.sampled_from([way for way in ScaleBy if not (is_text and way is ScaleBy.KNOWN_DIMENSION)]))
    scale = Scale(by, None if by is ScaleBy.AS_DRAWN else draw(lengths))
    if by is ScaleBy.KNOWN_DIMENSION:
        start, end = draw(st.lists(st.tuples(spots, spots), min_size=2, max_size=2, unique=True))
        scale = replace(scale, start=start, end=end)
    shown = st.text(min_size=1, max_size=20).filter(str.strip)
    common = {"id": one, "name": draw(words), "build": draw(st.sampled_from(builds)).id, "scale": scale}
    if is_text:
        text = Text(
            words=draw(shown),
            font=draw(shown),
            tracking=draw(st.floats(-1000.0, 1000.0)),
            line_spacing=draw(st.floats(0.1, 10.0)),
            align=draw(st.sampled_from(Align)),
            axes=tuple(draw(st.dictionaries(st.sampled_from(("wght", "wdth", "XTRA")), st.floats(-99, 999))).items()),
        )
        return Artwork(**common, text=text, sets=draw(st.integers(1, 9)))
    return Artwork(
        **common,
        file=draw(shown),
        units=draw(st.sampled_from((None, "in", "mm", "px"))),
        layers=draw(st.one_of(st.none(), st.lists(words, max_size=3).map(tuple))),
        sets=draw(st.integers(1, 9)),
        page=draw(st.integers(1, 9)),
        outline_strokes=draw(st.booleans()),
        join_overlaps=draw(st.booleans()),
        join_gap=draw(st.one_of(st.none(), st.floats(1e-3, 25.0))),
        font_folders=tuple(draw(st.lists(shown, max_size=2))),
        reads=draw(st.text(max_size=9)),
        letter_builds=tuple(draw(st.dictionaries(words, st.sampled_from([b.id for b in builds]), max_size=3)).items()),
    )


def small_job(**changes: object) -> Job:
    """Two words, two materials, three sheet sizes, all shipped."""
    book = shipped()
    fields: dict[str, object] = {
        "name": "corner shop",
        "artwork": (
            Artwork(
                "line1",
                "Line 1",
                "letters",
                text=Text("OPEN", "font.ttf"),
                scale=Scale(ScaleBy.CAPITAL_HEIGHT, 609.6),
            ),
            Artwork("line2", "Line 2", "letters", file="late.svg"),
        ),
        "builds": (
            Build(
                "letters",
                "Letters",
                KIND,
                (("backer", "alu-0.063"), ("face", "acrylic-white-3/16"), ("retainer", "alu-0.063")),
            ),
        ),
        "materials": (book.materials["alu-0.063"], book.materials["acrylic-white-3/16"]),
        "cutters": (book.cutters["1/8"], book.cutters["3/16"]),
        "stock": (
            book.stock["alu-0.063-48x96"],
            book.stock["alu-0.063-48x120"],
            book.stock["acrylic-white-3/16-51x100"],
        ),
    }
    return Job(**(fields | changes))
