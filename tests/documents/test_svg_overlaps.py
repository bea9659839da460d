"""Every drawing, on a site of 500 dwellings and on real plans: no text on another, none outside, none too small.

The boxes of texts come from the widths that the drawings reckon with, which ``test_svg_canvas`` holds against a font.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from doorwright.model.door import Door, LockKind
from doorwright.model.network import CableRun, Junction
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.power import Supply
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.render.svg import Drawing, elevations, level_plans, network_tree, power_lines, riser
from tests.documents import svg_reading as reading
from tests.documents import svg_sites
from tests.documents.svg_large_sites import SITES

DRAWN: dict[str, Callable[..., tuple[Drawing, ...]]] = {
    "riser": riser,
    "network": network_tree,
    "power": power_lines,
    "entrances": elevations,
    "levels": level_plans,
}


@cache
def drawings_of(site: str, what: str) -> tuple[Drawing, ...]:
    return DRAWN[what](Walk(SITES[site]()), revision="R7", on="2031-03-14")


@pytest.mark.parametrize("what", DRAWN)
@pytest.mark.parametrize("site", SITES)
def test_no_text_lies_on_another_or_outside(site: str, what: str) -> None:
    for drawing in drawings_of(site, what):
        assert reading.misplaced(drawing) == []


@pytest.mark.parametrize("what", DRAWN)
@pytest.mark.parametrize("site", SITES)
def test_letters_are_legible_on_a3_and_still_there_on_a4(site: str, what: str) -> None:
    """1.8 mm on A3; half the area, so 1/√2 of the length on A4 (ISO 216): 1.8 / 1.414 = 1.27 mm, about 3.6 pt.

    ISO 3098 asks for letters of 1.8 mm and more (from memory); A4 is for reference, not for the building site.
    """
    sizes = [letter.size_mm for drawing in drawings_of(site, what) for letter in reading.letterings(drawing)]
    assert min(sizes, default=2.0) >= 1.8
    assert min(sizes, default=2.0) / 2**0.5 >= 1.27


@pytest.mark.parametrize("what", DRAWN)
def test_no_legend_is_cut(what: str) -> None:
    for drawing in drawings_of("a real plan", what):
        assert len(reading.legend(drawing)) > 2
        assert [words for words in reading.legend(drawing) if "…" in words] == []


def test_the_big_site_has_sheets_of_everything() -> None:
    found = {what: len(drawings_of("500 dwellings in one core", what)) for what in DRAWN}
    assert all(found.values())


@pytest.mark.parametrize(
    ("what", "kinds"),
    [("power", (Supply, Junction)), ("entrances", (Entrance,)), ("levels", (Dwelling, Place, Entrance))],
)
@pytest.mark.parametrize("site", ["a real plan", "500 dwellings in one core", "500 dwellings in five cores"])
def test_every_part_is_drawn_once(site: str, what: str, kinds: tuple[type[Part], ...]) -> None:
    drawn = reading.parts(drawings_of(site, what))
    for kind in kinds:
        for part in SITES[site]().table(kind):
            assert drawn[f"{kind.KIND}:{part.id}"] == 1


def said(drawings: tuple[Drawing, ...]) -> list[str]:
    return [letter.text for drawing in drawings for letter in reading.letterings(drawing)]


def small(*parts: Part) -> Walk:
    site = replace(
        Site(name="Small", profiles=svg_sites.PROFILES),
        entrances=(Entrance(id="e", name="Gate", place="l"),),
        places=(Place(id="l", name="Lobby", kind=PlaceKind.LOBBY),),
    )
    for part in parts:
        site = site.with_tables({type(part): (*site.table(type(part)), part)})
    return Walk(site)


def lines(walk: Walk, what: str) -> list[str]:
    return said(DRAWN[what](walk, revision="1", on="2031-03-14"))


def power_run(ident: str, near: str, far: str, **values: Any) -> CableRun:
    return CableRun(id=ident, name=ident, near=near, far=far, cable="2x1.5", length_m=12.0, **values)


def lock(ident: str, **values: Any) -> Door:
    return Door(id=ident, name=f"Door {ident}", entrance="e", lock=LockKind.STRIKE, **values)


def test_power_over_a_junction() -> None:
    """By hand: 0.35 A + 0.6 A = 0.95 A; the third lock's current is not known."""
    texts = lines(
        small(
            Supply(id="p", name="PS", profile="psu", battery_ah=7.0),
            Junction(id="j", name="J1", place="l"),
            power_run("w1", "p", "j", fuse_a=2.0),
            power_run("w2", "j", "a"),
            power_run("w3", "j", "b"),
            power_run("w4", "p", "c"),
            lock("a", lock_operate_a=0.35),
            lock("b", lock_operate_a=0.6, lock_minimum_v=10.8),
            lock("c"),
            lock("d"),
        ),
        "power",
    )
    assert "all its loads together 0.95 A and 1 load not known" in texts
    assert "0.6 A, at least 10.8 V" in texts
    assert "current not known, least voltage not known" in texts
    assert "J1 · Lobby" in texts
    assert "w2 · 2x1.5, 12 m" in texts
    assert "2 A" in texts
    assert texts.count("?") == 1  # the fuse of w4: a run from the supply, and its profile gives none
    assert "No run from a supply leads to 1 door: Door d." in texts
    assert "hours of standby not given" in texts


def test_junctions_in_a_ring_end() -> None:
    texts = lines(
        small(
            Supply(id="p", name="PS", profile="psu"),
            Junction(id="j", name="J1"),
            Junction(id="k", name="J2"),
            power_run("w1", "p", "j"),
            power_run("w2", "j", "k"),
            power_run("w3", "k", "j"),
        ),
        "power",
    )
    assert "J1 · in a ring" in texts


def vcu(height_mm: int | None) -> Unit:
    return Unit(id="v", name="Panel", kind=UnitKind.VCU, profile="vcu", entrance="e", height_mm=height_mm)


def test_a_unit_stands_at_its_height() -> None:
    """On paper 1:20: the control of a unit at 1100 mm is 1100 / 20 = 55 mm above the floor line."""
    (drawing,) = elevations(small(vcu(1100)), revision="1", on="2031-03-14")
    assert "1100" in said((drawing,))
    shapes = reading.shapes(drawing)
    floor = max(s.y_mm for s in shapes if s.width_mm == pytest.approx(122) and s.height_mm == 0)
    controls = [s.y_mm + s.height_mm / 2 for s in shapes if s.width_mm == s.height_mm == pytest.approx(1.0)]
    assert any(floor - y_mm == pytest.approx(55.0, abs=0.02) for y_mm in controls)
    assert any("heights 1:20" in text for text in said((drawing,)))


@pytest.mark.parametrize(
    ("height_mm", "told"), [(None, "Panel, height not planned"), (2400, "Panel at 2400 mm"), (-5, "Panel at -5 mm")]
)
def test_a_unit_that_cannot_be_placed_is_told_of(height_mm: int | None, told: str) -> None:
    assert f"Not drawn: {told}." in lines(small(vcu(height_mm)), "entrances")


def test_ranges_of_the_sources_are_drawn() -> None:
    """ADA 308: 15 to 48 in, that is 380 and 1220 mm; Approved Document M volume 2, 4.30: 750 to 1200 mm."""
    texts = lines(small(vcu(1000)), "entrances")
    assert {"380", "1220", "750", "1200", "ADA", "BS 8300"} <= set(texts)
    assert any("The local code decides." in text for text in texts)


@pytest.mark.parametrize(
    ("answer", "told"),
    [(None, "exit button not answered"), (False, "no exit button"), (True, "exit button inside, its height not in")],
)
def test_exit_buttons_are_told_of(answer: bool | None, told: str) -> None:
    texts = lines(small(replace(lock("a"), exit_button=answer)), "entrances")
    assert any(told in text for text in texts)


def test_an_exit_button_is_drawn_at_its_height() -> None:
    """On paper 1:20: 900 mm are 45 mm above the floor line; the button is drawn 2 mm wide."""
    door = replace(lock("a"), exit_button=True, exit_button_height_mm=900)
    (drawing,) = elevations(small(door), revision="1", on="2031-03-14")
    assert any("exit button inside, 900 mm above the floor" in text for text in said((drawing,)))
    shapes = reading.shapes(drawing)
    floor = max(s.y_mm for s in shapes if s.width_mm == pytest.approx(122) and s.height_mm == 0)
    buttons = [s.y_mm + s.height_mm / 2 for s in shapes if s.width_mm == s.height_mm == pytest.approx(2.0)]
    assert any(floor - y_mm == pytest.approx(45.0, abs=0.02) for y_mm in buttons)


def level_parts() -> Iterator[Part]:
    yield Level(id="g", building="b", name="G", order=0, height_m=-2.8, crosses=True)
    yield Core(id="c1", building="b", name="East", x_m=4.0, y_m=0.0)
    yield Core(id="c2", building="b", name="West", x_m=22.5, y_m=0.0)
    yield Dwelling(id="d1", door_label="1", core="c1", level="g", run_m=7.5)
    yield Dwelling(id="d2", door_label="2", core="c1", level="g")
    yield Place(
        id="q", name="Cupboard", kind=PlaceKind.RISER_CUPBOARD, core="c2", level="g", run_m=1.5, switches_max_count=2
    )


def test_a_level_by_hand() -> None:
    """The risers are 22.5 - 4.0 = 18.5 m apart."""
    texts = lines(small(*level_parts()), "levels")
    for told in (
        "18.5 m", "7.5 m", "Cupboard · 0 of 2 switches", "1.5 m from the riser",
        "2.8 m below the ground floor · cables may cross between cores",
        "Not in the plan: way from the riser to 1 dwelling.",
    ):  # fmt: skip
        assert told in texts


def test_nothing_is_drawn_of_nothing() -> None:
    walk = Walk(Site(name="Empty"))
    assert [DRAWN[what](walk, revision="1", on="2031-03-14") for what in ("power", "entrances", "levels")] == [()] * 3


def test_what_has_no_level_or_core_is_drawn_as_such() -> None:
    parts = reading.parts(
        level_plans(
            small(*level_parts(), Dwelling(id="d3", door_label="3", core="gone", level="g")),
            revision="1",
            on="2031-03-14",
        )
    )
    assert [parts[part] for part in ("dwelling:d3", "place:l", "entrance:e")] == [1, 1, 1]


def test_a_place_that_takes_no_switches_is_not_counted_as_a_cupboard() -> None:
    lobby = Place(id="r", name="Hall", kind=PlaceKind.LOBBY, core="c1", level="g", switches_max_count=0)
    assert "Hall" in lines(small(*level_parts(), lobby), "levels")
