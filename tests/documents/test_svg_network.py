"""The network tree: every switch and unit once, rings and second paths marked, legible at any size."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest

from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.render.svg import sheet
from doorwright.render.svg.network import network_tree
from doorwright.render.svg.network_contents import network_contents
from doorwright.render.svg.network_layout import network_sheets
from doorwright.render.svg.sheet import Drawing
from tests.documents import svg_reading as reading
from tests.documents import svg_sites


def drawn(site: Site) -> tuple[Drawing, ...]:
    return network_tree(Walk(site), revision="R7", on="2031-03-14")


def run(ident: str, near: str, far: str) -> CableRun:
    return CableRun(id=ident, name=ident.upper(), near=near, far=far, cable="cat6a", length_m=20.0)


def ring() -> Site:
    """Three switches in a ring, one with a cable back to itself, one alone, and a second path into the ring."""
    switches = tuple(Switch(id=f"s{i}", name=f"SW-{i}", profile="sw24") for i in range(1, 6))
    runs = (
        run("a", "s1", "s2"),
        run("b", "s2", "s3"),
        run("c", "s3", "s1"),
        run("d", "s4", "s4"),
        run("e", "s4", "s2"),
    )
    return Site(name="Ring", profiles=svg_sites.PROFILES, switches=switches, runs=runs)


def chain(count: int) -> Site:
    switches = tuple(Switch(id=f"s{i}", name=f"SW-{i}", profile="sw24") for i in range(count))
    runs = tuple(run(f"r{i}", f"s{i}", f"s{i + 1}") for i in range(count - 1))
    return Site(name="Chain", profiles=svg_sites.PROFILES, switches=switches, runs=runs)


def crowded() -> Site:
    """90 VCUs on one switch of 28 ports, 40 subnets, names that want to be code."""
    units = tuple(Unit(id=f"v{i}", name=f"VCU <{i}> & بوابة", kind=UnitKind.VCU, profile="none") for i in range(90))
    switch = Switch(id="s", name="SW " + "with a long name " * 8, profile="sw24")
    return Site(
        name="Crowd",
        profiles=svg_sites.PROFILES,
        units=units,
        switches=(switch,),
        subnets=tuple(Subnet(id=f"n{i}", name=f"Net {i}", cidr=f"198.51.{i}.0/24") for i in range(40)),
        servers=(SipServer(id="six", name="Six", address="2001:db8::10"),),  # RFC 3849 address
        runs=tuple(replace(run(f"r{i}", "s", f"v{i}"), near_port=i + 1) for i in range(90)),
    )


SITES: dict[str, Callable[[], Site]] = {
    "nothing at all": lambda: Site(name="Empty"),
    "a real plan": svg_sites.orchard_court,
    "60 switches": lambda: svg_sites.grown(cores=60, levels=3, per_level=3),
    "500 dwellings": lambda: svg_sites.grown(levels=25, per_level=20),
    "a ring": ring,
    "a chain of 300": lambda: chain(300),
    "a crowd": crowded,
    "no switches": lambda: replace(svg_sites.grown(per_level=4), switches=(), runs=()),
}


@pytest.fixture(scope="module", params=SITES, ids=str)
def case(request: pytest.FixtureRequest) -> tuple[Site, tuple[Drawing, ...]]:
    site = SITES[request.param]()
    return site, drawn(site)


def test_paper(case: tuple[Site, tuple[Drawing, ...]]) -> None:
    for drawing in case[1]:
        letters = reading.letterings(drawing)
        assert min(letter.size_mm for letter in letters) >= 1.8  # about 5 pt: 5 × 25.4 / 72 = 1.76 mm
        assert reading.overlapping([(letter.text, letter.box) for letter in letters]) == []
        assert [letter.text for letter in letters if not sheet.FRAME.holds(letter.box)] == []
        assert [shape for shape in reading.shapes(drawing) if not sheet.FRAME.holds(shape, slack_mm=0.3)] == []


def test_cards_do_not_overlap(case: tuple[Site, tuple[Drawing, ...]]) -> None:
    for one in network_sheets(network_contents(Walk(case[0]))):
        boxes = [(placed.node.name, placed.card) for placed in one.nodes]
        boxes += [(group.words, box) for p in one.nodes for group, box in zip(p.node.groups, p.groups, strict=True)]
        boxes += [(placed.card.name, placed.box) for placed in one.cards]
        assert reading.overlapping(boxes) == []


def test_every_switch_unit_subnet_and_server_once(case: tuple[Site, tuple[Drawing, ...]]) -> None:
    site, drawings = case
    wanted = Counter(f"{part.KIND}:{part.id}" for part in (*site.switches, *site.units, *site.subnets, *site.servers))
    assert reading.parts(drawings) == wanted
    said = reading.all_words(drawings)
    for part in (*site.switches, *site.units, *site.subnets, *site.servers):
        assert " ".join(part.label.split()) in said


def test_uplinks_make_the_tree() -> None:
    nodes = network_contents(Walk(svg_sites.orchard_court())).nodes
    assert [(node.name, node.depth) for node in nodes] == [
        ("SW-A1", 0), ("SW-A5", 1), ("SW-B1", 1), ("SW-B5", 2), ("SW-C1", 2), ("SW-C5", 3),
    ]  # fmt: skip


def test_facts_of_a_switch() -> None:
    """By hand, SW-A5: 12 URUs of 7.5 W are 90 W; with its uplink 13 cables of 28 ports."""
    said = reading.words_of(drawn(svg_sites.orchard_court()), "switch:swA5")
    assert "ports 13 of 28 · PoE 90 of 370 W" in said
    assert "Riser cupboard A5 · 192.0.2.3" in said
    assert "uplink from port 17 of SW-A1 · cat6a, 16 m" in said


def test_units_are_grouped_with_their_ports() -> None:
    texts = [letter.text for d in drawn(svg_sites.orchard_court()) for letter in reading.letterings(d)]
    # 3 dwellings on each of 4 levels and the bedroom of A101: 13 URUs, cabled first, so ports 1 to 13
    assert "13 URU · Core A · Level 1 to Level 4" in texts
    assert "ports 1–13" in texts
    assert "VCU A · 192.0.2.9 · registrar of 24" in texts  # 3 × 8 primary URUs of core A
    assert "192.0.2.0/24 · VLAN 40" in texts
    assert "gateway 192.0.2.1" in texts
    assert "registrations 0 of 100" in texts


@pytest.mark.parametrize("name", ["60 switches", "a chain of 300"])
def test_where_the_tree_goes_on_is_told_at_both_ends(name: str) -> None:
    site = SITES[name]()
    sheets, drawings = network_sheets(network_contents(Walk(site))), drawn(site)
    first = {p.node.ident: n for n, one in reversed(list(enumerate(sheets, start=1))) for p in one.nodes}
    crossing = {
        (placed.node.parent, first[placed.node.parent], number)
        for number, one in enumerate(sheets, start=1)
        for placed in one.nodes
        if placed.node.parent and first[placed.node.parent] != number
    }
    assert crossing
    names = {switch.id: switch.name for switch in site.switches}
    for ident, above, below in crossing:
        assert _names_after(drawings[above - 1], f"continues on sheet {below}: ") >= {names[ident]}
        assert _names_after(drawings[below - 1], f"continued from sheet {above}: ") >= {names[ident]}


def _names_after(drawing: Drawing, words: str) -> set[str]:
    said = "; ".join(letter.text for letter in reading.letterings(drawing))
    return {
        name for part in said.split("; ") if part.startswith(words) for name in part.removeprefix(words).split(", ")
    }


def test_ring_is_drawn_with_marked_links() -> None:
    drawings = drawn(ring())
    said = reading.all_words(drawings)
    # SW-4 feeds the ring and is fed by nobody else, so the tree is SW-4, SW-2, SW-3, SW-1; SW-1 to SW-2 closes the ring
    assert "uplink from SW-3 · cat6a, 20 m" in reading.words_of(drawings, "switch:s1")
    assert "further link to SW-2 · cat6a, 20 m" in reading.words_of(drawings, "switch:s1")
    assert "further link from SW-1 · cat6a, 20 m" in reading.words_of(drawings, "switch:s2")
    assert "further link back to itself · cat6a, 20 m" in said
    dashed = [e for e in reading.root_of(drawings[0]).iter() if e.get("stroke-dasharray") == "1.2 0.8"]
    assert len(dashed) > 3


def test_more_cables_than_ports_is_said() -> None:
    said = reading.all_words(drawn(crowded()))
    assert "ports 90 of 28, more than it has · PoE at least 0 of 370 W" in said
    assert "[2001:db8::10]:5060" in said  # RFC 3986, section 3.2.2: an IPv6 address stands in brackets


def test_units_without_a_switch_are_listed() -> None:
    site = replace(svg_sites.grown(per_level=4), switches=(), runs=())
    assert "Not cabled to a switch" in reading.all_words(drawn(site))


def test_levels_with_gaps_are_counted() -> None:
    site = svg_sites.grown(levels=5)
    kept = tuple(run for run in site.runs if run.far not in ("b0c0l1d0u", "b0c0l2d0u"))
    texts = [letter.text for d in drawn(replace(site, runs=kept)) for letter in reading.letterings(d)]
    assert "3 URU · Core 1 · Level 0 to Level 4 (3 levels)" in texts


def test_same_site_same_drawing() -> None:
    assert drawn(ring()) == drawn(ring())
