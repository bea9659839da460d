"""The building's page: every part drawn once, marked by the worst finding on it, several buildings to choose from."""

import re
from dataclasses import replace
from itertools import pairwise

from starlette.testclient import TestClient

from doorwright.app.by_part import by_part
from doorwright.kernel.verdict import Finding, Severity, Subject
from doorwright.model.place import Building, Core, Dwelling, Level, Place, PlaceKind
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.render.svg.house import HOMES_MOST_COUNT, House, contents_for_screen, house
from doorwright.rules.judge import Assessment


def _tower(levels_count: int, per_level: int, *, cores: int = 1, building: str = "b") -> Site:
    """A building with so many homes on every level of every core, the lowest level at the ground."""
    levels = tuple(Level(id=f"{building}l{i}", building=building, name=str(i), order=i) for i in range(levels_count))
    stairs = tuple(Core(id=f"{building}c{i}", building=building, name=f"Stair {i}") for i in range(cores))
    homes = tuple(
        Dwelling(
            id=f"{core.id}-{level.id}-{i}", door_label=f"{core.name}.{level.name}.{i}", core=core.id, level=level.id
        )
        for core in stairs
        for level in levels
        for i in range(per_level)
    )
    return Site(
        name="Tower", buildings=(Building(id=building, name=building),), levels=levels, cores=stairs, dwellings=homes
    )


def _house(site: Site, building: str = "b", stretch: int = 0) -> House:
    walk = Walk(site)
    drawn = house(walk, contents_for_screen(walk), building, stretch)
    assert drawn is not None
    return drawn


def test_every_part_with_a_place_is_drawn_once_and_no_two_homes_overlap() -> None:
    drawn = _house(_tower(25, 5, cores=4))
    idents = [part.id for part in drawn.parts]
    assert len(idents) == len(set(idents)) == 25 * 5 * 4 + 25 + 4  # homes, levels, cores
    homes = sorted((part.box for part in drawn.parts if part.shape == "home"), key=lambda box: (box.y_mm, box.x_mm))
    assert not any(one.overlaps(other) for one, other in pairwise(homes))
    assert all(box.x_mm >= 0 and box.right_mm <= drawn.width_mm and box.bottom_mm <= drawn.height_mm for box in homes)


def test_the_top_level_stands_above_the_ground() -> None:
    drawn = _house(_tower(3, 1))
    assert [storey.name for storey in drawn.storeys] == ["2", "1", "0"]
    tops = [storey.box.y_mm for storey in drawn.storeys]
    assert tops == sorted(tops)
    assert [storey.is_ground for storey in drawn.storeys] == [False, False, True]


def test_a_building_too_large_is_drawn_in_stretches_of_cores() -> None:
    site = _tower(25, 10, cores=10)  # 2 500 homes, 250 a core; 1 500 are drawn at once: six cores, then four
    first, second = _house(site), _house(site, stretch=1)
    assert first.stretches == ("Stair 0 to Stair 5", "Stair 6 to Stair 9")
    counts = [sum(part.shape == "home" for part in drawn.parts) for drawn in (first, second)]
    assert counts == [HOMES_MOST_COUNT, 1_000]


def test_what_stands_nowhere_yet_is_drawn_below() -> None:
    site = replace(
        _tower(1, 1),
        places=(Place(id="yard", name="Yard", kind=PlaceKind.OUTDOORS),),
        units=(
            Unit(id="gate", name="Gate panel", kind=UnitKind.VCU, profile="vcu-keypad", place="yard"),
            Unit(id="lost", name="Lost panel", kind=UnitKind.VCU, profile="vcu-keypad"),
        ),
    )
    drawn = _house(site)
    assert {"gate", "lost", "yard"} <= {part.id for part in drawn.parts}
    assert {"Outdoors", "Not placed yet"} <= {text for _, _, text in drawn.words}


def test_an_empty_site_has_nothing_drawn() -> None:
    drawn = _house(Site(name="new"), building="")
    assert (drawn.parts, drawn.words) == ((), ())


def test_a_receivers_finding_marks_its_dwelling_and_a_waived_one_marks_nothing() -> None:
    unit = Unit(id="uru", name="URU 1", kind=UnitKind.URU, profile="uru-video", dwelling="bc0-bl0-0")
    walk = Walk(replace(_tower(1, 2), units=(unit,)))
    error = Finding("a-rule", Severity.ERROR, (Subject("unit", "uru"),), "no address")
    note = Finding("b-rule", Severity.NOTE, (Subject("dwelling", "bc0-bl0-0"),), "no legend")
    said = by_part(walk, Assessment((note, error), (), (), {}))
    assert said.worst == {"uru": Severity.ERROR, "bc0-bl0-0": Severity.ERROR}
    assert [finding.rule for finding, _ in said.findings["bc0-bl0-0"]] == ["b-rule", "a-rule"]


def test_the_page_draws_the_example_with_links(client: TestClient) -> None:
    page = client.get("/books/medium")
    view = client.get("/books/medium.json").json()
    homes = [part for part in view["drawing"]["house"]["parts"] if part["shape"] == "home"]
    assert len(homes) == 64
    assert len(set(re.findall(r'href="/books/medium/parts/([^"/]+)"', page.text))) == len(
        view["drawing"]["house"]["parts"]
    )
    assert ' style="' not in page.text, "the policy of our pages blocks it"


def test_the_marks_say_the_worst_on_each_part(client: TestClient) -> None:
    worst = client.get("/books/medium/marks.json").json()["worst"]
    assert set(worst.values()) <= {"error", "warning", "note"}
    drawn = client.get("/books/medium.json").json()["drawing"]
    assert drawn["judged"]
    shown = {part["id"] for part in drawn["house"]["parts"]}
    assert drawn["worst"] == {ident: severity for ident, severity in worst.items() if ident in shown}
    building = drawn["house"]["building"]
    assert client.get("/books/medium/marks.json", params={"building": building}).json()["worst"] == drawn["worst"]
    assert 'class="mark' in client.get("/books/medium").text


def test_htmx_gets_the_drawing_alone(client: TestClient) -> None:
    piece = client.get("/books/medium", headers={"HX-Request": "true"}).text
    assert "<svg" in piece
    assert "<html" not in piece


def test_an_unknown_building_shows_the_first(client: TestClient) -> None:
    shown = client.get("/books/medium.json", params={"building": "nowhere"}).json()["drawing"]["house"]["building"]
    assert shown == client.get("/books/medium.json").json()["drawing"]["house"]["building"]
