"""The riser drawing: legible, complete, nothing over anything else, for sites of any size and any mess."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.model.door import Door, FailMode
from doorwright.model.network import CableRun, Switch
from doorwright.model.place import Building, Core, Dwelling, Level, Place, PlaceKind
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.render.svg import sheet
from doorwright.render.svg.riser import riser
from doorwright.render.svg.riser_sheets import plan
from doorwright.render.svg.sheet import Drawing
from tests.documents import svg_reading as reading
from tests.documents import svg_sites

LEAST_TEXT_MM = 1.8  # about 5 pt: 5 × 25.4 / 72 = 1.76 mm; the least that this house prints


def drawn(site: Site) -> tuple[Drawing, ...]:
    return riser(Walk(site), revision="R7", on="2031-03-14")


def messy() -> Site:
    """What real input looks like: things without place, level or address, contradictions, hostile names."""
    site = svg_sites.grown(cores=2, levels=3, per_level=2)
    long = "Apartment of the Very Long Name with a Balcony towards the River and a Second Entrance " * 2
    dwellings = (
        *site.dwellings,
        Dwelling(id="x1", door_label=long, core="b0c0", level="b0l1", call_number="12345678901234567890"),
        Dwelling(id="x2", door_label="شقة ١٢", core="b0c0", level="b0l1"),
        Dwelling(id="x3", door_label='👩‍👩‍👧 & <b>"home"</b>', core="b0c1", level="b0l2"),
        Dwelling(id="x4", door_label="no such core", core="nowhere", level="b0l1"),
        Dwelling(id="x5", door_label="no such level", core="b0c0", level="nowhere"),
        Dwelling(id="x6", door_label="other\x00building\n's level", core="b0c0", level="b9l0"),
    )
    extra_levels = (
        Level(id="twin", building="b0", name="Mezzanine", order=1, height_m=1.5),
        Level(id="b9l0", building="b9", name="דירה 4", order=0),
        Level(id="cellar", building="b0", name="Cellar", order=-1, height_m=-2.8),
    )
    places = (
        Place(id="p-cellar", name="Meter room", kind=PlaceKind.RISER_CUPBOARD, level="cellar"),
        Place(id="p-lost", name="Cupboard of unknown level", kind=PlaceKind.RISER_CUPBOARD, core="b0c0"),
        Place(id="p-yard", name="Yard", kind=PlaceKind.OUTDOORS),
    )
    switches = (
        Switch(id="sx", name="SW-cellar", profile="no such profile", place="p-cellar"),
        Switch(id="sy", name="SW-lost", profile="sw24", place="p-lost"),
        Switch(id="sz", name="SW-nowhere", profile="sw24"),
        Switch(id="syard", name="SW-yard", profile="sw24", place="p-yard"),
    )
    units = (
        Unit(id="ux", name="URU of nobody", kind=UnitKind.URU, profile="uru"),
        Unit(id="uy", name="Desk in the yard", kind=UnitKind.SMU, profile="smu", place="p-yard"),
        *(
            Unit(id=f"m{i}", name=f"URU many {i}", kind=UnitKind.URU, profile="uru", dwelling="x1", position=i)
            for i in range(6)
        ),
    )
    runs = (
        CableRun(id="rx", name="X-1", near="sx", far="b0c0s0", cable="cat6", length_m=30.0),
        CableRun(id="ry", name="X-2", near="sz", far="b0c1l1d0u"),
        CableRun(id="rz", name="X-3", near="nothing", far="nobody"),
        CableRun(id="rw", name="X-4", near="b0c0s0", far="uy", cable="cat6", length_m=60.0),
        CableRun(id="rself", name="X-5", near="sx", far="sx"),
    )
    return replace(
        site,
        name="Höfe “am Fluß” & <Söhne> 🏠",
        buildings=(*site.buildings, Building(id="b9", name="Annex"), Building(id="b10", name="Shed without levels")),
        cores=(*site.cores, Core(id="b10c0", building="b10", name="Core S")),
        levels=site.levels + extra_levels,
        places=site.places + places,
        dwellings=dwellings,
        doors=(*site.doors, Door(id="dx", name="Door of no entrance", entrance="nowhere", fail_mode=FailMode.SECURE)),
        units=site.units + units,
        switches=site.switches + switches,
        runs=site.runs + runs,
    )


def one_level(count: int) -> Site:
    return svg_sites.grown(levels=1, per_level=count)


def central() -> Site:
    """60 switches in one room, all fed from one of them, all feeding one level."""
    site = svg_sites.grown(cores=3, levels=2, per_level=40)
    room = Place(id="room", name="Network room", kind=PlaceKind.RISER_CUPBOARD, core="b0c0", level="b0l0")
    switches = tuple(Switch(id=f"k{i}", name=f"SW-K{i:02d}", profile="sw24", place="room") for i in range(60))
    ups = tuple(CableRun(id=f"ku{i}", name=f"KU{i}", near="k0", far=f"k{i}", length_m=3.0) for i in range(1, 60))
    feeds = tuple(CableRun(id=f"kf{i}", name=f"KF{i}", near=f"k{i}", far=f"b0c{i % 3}l1d{i // 3}u") for i in range(60))
    return replace(site, places=(*site.places, room), switches=site.switches + switches, runs=ups + feeds)


SITES: dict[str, Callable[[], Site]] = {
    "nothing at all": lambda: Site(name="Empty"),
    "no dwellings": lambda: svg_sites.grown(per_level=0),
    "one dwelling": svg_sites.grown,
    "64 dwellings, as a real plan": svg_sites.orchard_court,
    "40 cores": lambda: svg_sites.grown(cores=40, levels=4, per_level=2),
    "30 levels": lambda: svg_sites.grown(cores=2, levels=30, per_level=4),
    "500 dwellings in one core": lambda: svg_sites.grown(levels=25, per_level=20),
    "700 dwellings on one level": lambda: one_level(700),
    "three buildings": lambda: svg_sites.grown(cores=2, levels=6, per_level=3, buildings=3),
    "60 switches in one room": central,
    "mess": messy,
}


@pytest.fixture(scope="module", params=SITES, ids=str)
def case(request: pytest.FixtureRequest) -> tuple[Site, tuple[Drawing, ...]]:
    site = SITES[request.param]()
    return site, drawn(site)


def check_paper(drawing: Drawing) -> None:
    """Letters large enough, no text over text, nothing outside the frame."""
    letters = reading.letterings(drawing)
    assert min(letter.size_mm for letter in letters) >= LEAST_TEXT_MM
    assert reading.overlapping([(letter.text, letter.box) for letter in letters]) == []
    outside = [letter.text for letter in letters if not sheet.FRAME.holds(letter.box)]
    assert outside == []
    assert [shape for shape in reading.shapes(drawing) if not sheet.FRAME.holds(shape, slack_mm=0.3)] == []


def test_paper(case: tuple[Site, tuple[Drawing, ...]]) -> None:
    for drawing in case[1]:
        assert (drawing.width_mm, drawing.height_mm) == (420, 297)  # ISO 216: A3
        check_paper(drawing)


def test_every_part_is_drawn_once(case: tuple[Site, tuple[Drawing, ...]]) -> None:
    site, drawings = case
    wanted = Counter(
        f"{part.KIND}:{part.id}"
        for table in (site.dwellings, site.units, site.switches, site.supplies, site.doors, site.entrances)
        for part in table
    )
    found = reading.parts(drawings)
    assert {part: count for part, count in found.items() if not part.startswith("place:")} == wanted


def test_every_label_stands_at_its_part(case: tuple[Site, tuple[Drawing, ...]]) -> None:
    site, drawings = case
    words = {}
    for drawing in drawings:
        for element in reading.root_of(drawing).iter():
            if "data-part" in element.attrib:
                words[element.attrib["data-part"]] = " | ".join(element.itertext())
    for dwelling in site.dwellings:
        said = words[f"dwelling:{dwelling.id}"]
        assert " ".join(dwelling.door_label.replace("\x00", "\ufffd").split()) in said
        assert (dwelling.call_number or "–") in said
    for part in (*site.units, *site.switches, *site.supplies, *site.doors):
        assert part.label in words[f"{part.KIND}:{part.id}"]


def test_boxes_do_not_overlap(case: tuple[Site, tuple[Drawing, ...]]) -> None:
    for one in plan(Walk(case[0])).sheets:
        boxes = []
        blocks = [block for placed in one.stacks for block in placed.blocks] + [
            b for row in one.strip for b in row.blocks
        ]
        homes = [home for placed in one.stacks for home in placed.homes] + [h for row in one.strip for h in row.homes]
        boxes += [(block.block.heading, block.box) for block in blocks]
        boxes += [(home.home.label, home.box) for home in homes]
        boxes += [(branch.bundle.words, branch.text) for placed in one.stacks for branch in placed.branches]
        assert reading.overlapping(boxes) == []
        for block in blocks:
            assert reading.overlapping([(tile.tile.name, tile.box) for tile in block.tiles]) == []
            assert all(block.box.holds(tile.box) for tile in block.tiles)


def test_things_stand_on_their_level_and_in_their_core(case: tuple[Site, tuple[Drawing, ...]]) -> None:
    dwellings = {dwelling.id: dwelling for dwelling in case[0].dwellings}
    for one in plan(Walk(case[0])).sheets:
        for placed in one.stacks:
            for home in placed.homes:
                dwelling = dwellings[home.home.ident]
                level = next(
                    placed.stack.bands[i].level.id for i, box in placed.band_boxes.items() if box.holds(home.box)
                )
                core = next(column.column.key for column in placed.columns if column.right.holds(home.box))
                assert (core, level) == (dwelling.core, dwelling.level)


@settings(max_examples=20, deadline=None)
@given(
    cores=st.integers(1, 5),
    levels=st.integers(1, 14),
    per_level=st.integers(0, 12),
    buildings=st.integers(1, 3),
    switch_every=st.integers(1, 9),
)
def test_any_size(cores: int, levels: int, per_level: int, buildings: int, switch_every: int) -> None:
    site = svg_sites.grown(
        cores=cores, levels=levels, per_level=per_level, buildings=buildings, switch_every=switch_every
    )
    drawings = drawn(site)
    for drawing in drawings:
        check_paper(drawing)
    found = reading.parts(drawings)
    assert sum(count for part, count in found.items() if part.startswith("dwelling:")) == len(site.dwellings)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60), st.text(max_size=60))
def test_any_name(label: str, name: str) -> None:
    site = svg_sites.grown()
    site = replace(
        site,
        name=name,
        dwellings=(replace(site.dwellings[0], door_label=label, call_number=name),),
        cores=(replace(site.cores[0], name=name),),
        levels=(replace(site.levels[0], name=label),),
        switches=(replace(site.switches[0], name=name),),
    )
    for drawing in drawn(site):
        check_paper(drawing)


def test_64_dwellings_stand_on_one_sheet() -> None:
    assert len(drawn(svg_sites.orchard_court())) == 1


def test_sheets_are_numbered_and_name_their_continuation() -> None:
    drawings = drawn(svg_sites.grown(cores=2, levels=30, per_level=4))
    count = len(drawings)
    assert count > 1
    assert [drawing.name for drawing in drawings] == [f"riser-{i + 1:02d}" for i in range(count)]
    for number, drawing in enumerate(drawings, start=1):
        said = reading.all_words((drawing,))
        assert f"{number} of {count}" in said
        assert ("continues on sheet " + str(number + 1) in said) == (number < count)
        assert ("continues on sheet " + str(number - 1) in said) == (number > 1)


def test_bundles_are_counted_and_the_longest_named() -> None:
    """By hand: SW-A1 feeds A101 to A103 (12, 19 and 26 m) and the bedroom URU of A101 (22 m): 4 cables, up to 26 m."""
    drawings = drawn(svg_sites.orchard_court())
    texts = [letter.text for letter in reading.letterings(drawings[0])]
    assert texts.count("SW-A1: 4 × cat6, ≤ 26 m") == 1
    assert "SW-B1: 2 × cat6, ≤ 24 m (1 without length)" in texts  # the run to the store has no length
    uplinks = ("to SW-A5 · cat6a, 16 m", "from SW-A1 · cat6a, 44 m", "to SW-C1 · fibre OM3, 52 m")
    assert all(texts.count(uplink) == 1 for uplink in uplinks)


def test_locks_are_told_by_letters_and_shape() -> None:
    drawings = drawn(svg_sites.orchard_court())
    assert "fail-safe · magnet" in reading.words_of(drawings, "door:doorA")
    assert "ESC on an escape route" in reading.words_of(drawings, "door:doorA")
    assert "fail-secure · strike" in reading.words_of(drawings, "door:doorN")
    assert "fail mode? · strike" in reading.words_of(drawings, "door:doorG")
    assert "ESC? not answered" in reading.words_of(drawings, "door:doorG")

    def shape_of(door: str) -> list[str]:
        group = next(e for e in reading.root_of(drawings[0]).iter() if e.get("data-part") == f"door:{door}")
        return [
            e.tag + e.get("fill", "") + e.get("stroke-dasharray", "")
            for e in group
            if not e.tag.endswith(("text", "title"))
        ]

    assert len({tuple(shape_of(door)) for door in ("doorA", "doorN", "doorG")}) == 3


def test_what_has_no_place_is_shown_as_such() -> None:
    drawings = drawn(messy())
    said = reading.all_words(drawings)
    for heading in ("Not placed yet", "Outdoors", "Not drawn"):
        assert heading in said
    assert "X-3" in said  # a cable from nothing to nobody
    assert "Shed without levels: no levels known yet (cores Core S)" in said
    assert "no address" in reading.words_of(drawings, "unit:ux")


def test_levels_of_the_same_order_both_appear() -> None:
    said = reading.all_words(drawn(messy()))
    assert "Mezzanine" in said
    assert "Level 1" in said


def test_hostile_and_right_to_left_names() -> None:
    drawings = drawn(messy())
    svg = "".join(drawing.svg for drawing in drawings)
    assert "<b>" not in svg
    assert "\x00" not in svg
    rtl = [e for d in drawings for e in reading.root_of(d).iter() if e.get("direction") == "rtl"]
    assert {e.text for e in rtl} >= {"شقة ١٢", "דירה 4"}
    # in right-to-left text "start" is the right end: only the middle means the same to every renderer
    assert all(e.get("unicode-bidi") == "embed" and e.get("text-anchor") == "middle" for e in rtl)


def test_shortened_text_keeps_the_whole_in_its_title() -> None:
    drawings = drawn(messy())
    whole = " ".join(
        ("Apartment of the Very Long Name with a Balcony towards the River and a Second Entrance " * 2).split()
    )
    shown = [
        letter.text for drawing in drawings for letter in reading.letterings(drawing) if letter.text.startswith("Apart")
    ]
    assert all(text.endswith("…") for text in shown)
    assert shown
    assert whole in reading.words_of(drawings, "dwelling:x1")


def test_plain_svg_without_scripts_or_references() -> None:
    for site in (svg_sites.orchard_court(), messy()):
        for drawing in drawn(site):
            root = reading.root_of(drawing)
            assert root.get("role") == "img"
            assert [child.tag.split("}")[1] for child in root][:2] == ["title", "desc"]
            tags = {element.tag.split("}")[1] for element in root.iter()}
            assert tags <= {"svg", "g", "title", "desc", "text", "rect", "circle", "polyline", "polygon"}
            names = {name for element in root.iter() for name in element.attrib}
            assert not {name for name in names if "href" in name or name.startswith("on") or name in ("style", "class")}


def test_title_block() -> None:
    said = reading.all_words(drawn(svg_sites.orchard_court()))
    for words in ("Orchard Court", "OC-2031", "Riser drawing", "1 of 1", "R7", "2031-03-14", "not to scale"):
        assert words in said


def test_same_site_same_drawing() -> None:
    assert drawn(messy()) == drawn(messy())
