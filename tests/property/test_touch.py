"""The touch list is complete, edits move nothing else, and what was done can be undone, on sites of every shape."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import partial
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doorwright.kernel.errors import Refused
from doorwright.model.calling import Divert, DivertCause, RingMode, Timetable, TimetablePurpose, Window
from doorwright.model.change import Add, Change, Changes, Remove, Set, apply, diff, inverse
from doorwright.model.door import Door, FailMode, LockKind, ReleaseRight
from doorwright.model.network import Junction, SipServer, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.power import Supply
from doorwright.model.price import Price, PricedBy
from doorwright.model.site import PARTS, Site
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.dwellings import add_dwelling, merge_dwellings, remove_dwelling
from doorwright.plan.edits.edit import Edit
from doorwright.plan.edits.moving import move_unit
from doorwright.plan.edits.renaming import rename
from doorwright.plan.edits.renewing import new_secret, new_subnet
from doorwright.plan.edits.replacing import replace_unit
from doorwright.plan.piece import Holder
from doorwright.plan.plan import plan_site
from doorwright.plan.settings import settings_of
from doorwright.plan.touch import Touch, applied, touch_list
from doorwright.store.profiles import load_profiles
from tests.property.test_watch import ESTATE, edits
from tests.unit.plan.block import block, new_ids, planned, plus, run, server, subnet, switch, unit

PROFILES = load_profiles()


def town(*, with_server: bool) -> Site:
    """Two cores of two levels with keys, a gate with a directory over both, a desk, a home with two receivers; a lodge.

    Doors, rights, hours and diverts of every sort; the lodge is a group of entrances of its own.
    """
    site = block({"A": {0: ["1", "2"], 1: ["3", "4"]}, "B": {0: ["5", "6"], 1: ["7"]}}, vcu="vcu-direct")
    site = replace(
        site,
        entrances=tuple(replace(entrance, calls_desk=True) for entrance in site.entrances),
        places=(
            Place(id="office", name="Office", kind=PlaceKind.OFFICE, building="block", level="L0"),
            Place(id="riser", name="Riser", kind=PlaceKind.RISER_CUPBOARD, building="block", level="L1"),
        ),
    )
    site = plus(
        site,
        Entrance(id="gate", name="Gate", serves_buildings=("block",), calls_desk=True),
        Building(id="lodge", name="Lodge"),
        Core(id="C", building="lodge", name="C"),
        Level(id="L9", building="lodge", name="0", order=0),
        Dwelling(id="C/9", door_label="9", core="C", level="L9"),
        Entrance(id="at C", name="Lodge", serves_buildings=("lodge",)),
        unit("vcu C", entrance="at C"),
        unit("uru C/9", dwelling="C/9"),
        Supply(id="feed", name="Feed", profile="supply-24v-5a", place="riser"),
        Junction(id="box", name="Box", place="riser"),
        Price(id="price", item="cat6", amount=Decimal("0.48"), per=PricedBy.METRE),
        unit("vcu gate", entrance="gate"),
        unit("smu desk", place="office"),
        unit("uru second", profile="uru-audio", dwelling="A/2"),
        subnet("192.0.2.0/26", name="homes", kinds=("URU",), gateway="192.0.2.1", vlan=7),
        subnet("198.51.100.0/26", name="rest", gateway="198.51.100.1"),
        switch("S1", "switch-16", place="riser"),
        switch("S2", place="office"),
        run("up", "S1", "S2"),
    )
    site = plus(site, *(run(f"to {one.name}", "S1", one.id) for one in site.units if one.dwelling))
    site = plus(
        site,
        Door(id="front", name="Front door", entrance="at A", freed_by="vcu A", output=1, release_s=5.0,
             lock=LockKind.STRIKE, fail_mode=FailMode.SECURE, escape_route=True),
        Door(id="gate door", name="Gate", entrance="gate", freed_by="vcu gate", output=1, release_s=8.0,
             fail_mode=FailMode.SAFE),
        Timetable(id="office hours", name="Office hours", entrance="gate", purpose=TimetablePurpose.DIVERT,
                  windows=(Window(days=(0, 1, 2, 3, 4), start_min=480, end_min=1080),), divert_to="smu desk"),
        Timetable(id="trades", name="Trades", entrance="at B", purpose=TimetablePurpose.TRADE_RELEASE,
                  windows=(Window(days=(5,), start_min=420, end_min=600), Window(days=(7,), start_min=0, end_min=60))),
        Timetable(id="evening", name="Evening", entrance="at B", purpose=TimetablePurpose.CALL),
        Divert(id="away", cause=DivertCause.ALWAYS, dwelling="C/9", to_dwelling="B/5", timetable="evening"),
        Divert(id="nobody in", cause=DivertCause.NO_ANSWER, entrance="gate", to_desk="smu desk"),
        Divert(id="for all", cause=DivertCause.BUSY, to_desk="smu desk"),
        Divert(id="at night", cause=DivertCause.NO_ANSWER, desk="smu desk", to_dwelling="B/7"),
        ReleaseRight(id="right of A", door="gate door", cores=("A",), desks=("smu desk",)),
        ReleaseRight(id="right of B", door="gate door", buildings=("block",), dwellings=("B/5",), timetable="trades"),
    )  # fmt: skip
    if with_server:
        site = plus(site, server(address="198.51.100.60"))
    site = replace(
        site,
        time_zone="Etc/GMT-1",
        holidays=(date(2031, 12, 25), date(2031, 5, 1)),
        dwellings=tuple(replace(home, ring_s=20) if home.id == "B/6" else home for home in site.dwellings),
    )
    boxes = [replace(one, serial=f"T{n:08d}", mac=f"00-00-5E-00-53-{n:02X}") for n, one in enumerate(site.units, 1)]
    return planned(replace(site, units=tuple(boxes))).site


TOWNS = {with_server: town(with_server=with_server) for with_server in (False, True)}


def everything(walk: Walk) -> dict[str, dict[str, str]]:
    """Return the settings of every unit, switch and server: what the list of candidates must never fall short of."""
    holders: list[Holder] = [*walk.all(Unit), *walk.all(Switch), *walk.all(SipServer)]
    return {holder.id: dict(settings_of(walk, holder)) for holder in holders}


def see_that_it_is_complete(before: Site, after: Site, changes: Changes) -> tuple[Touch, ...]:
    walk = Walk(before)
    everything(walk)  # indexes that are there already must be mended, not believed
    touches = touch_list(walk, walk.after(changes), changes)
    was, wanted = everything(Walk(before)), everything(Walk(after))
    units = dict(was)
    for touch in touches:
        ident = touch.holder.id
        units[ident] = applied(units.get(ident, {}), touch)
        if touch.gone:
            assert units.pop(ident) == {}
    units |= {ident: {} for ident in wanted.keys() - units.keys()}  # something new of which nothing is planned yet
    astray = {
        (ident, name): (units[ident].get(name), wanted[ident].get(name))
        for ident in wanted
        for name in units[ident].keys() | wanted[ident].keys()
        if units[ident].get(name) != wanted[ident].get(name)
    }
    assert not astray
    assert units == wanted
    differing = {ident for ident in was.keys() | wanted.keys() if was.get(ident, {}) != wanted.get(ident, {})}
    entered = {touch.holder.id for touch in touches if touch.entries}
    swapped = {touch.holder.id for touch in touches if touch.fresh}
    assert entered - swapped == differing - swapped
    assert [touch.number for touch in touches] == list(range(1, len(touches) + 1))
    return touches


def see_the_order(touches: tuple[Touch, ...]) -> None:
    place = {touch.holder.id: touch.number for touch in touches if not touch.gone}
    for touch in touches:
        if isinstance(touch.holder, Unit) and not touch.gone and touch.holder.registrar in place:
            assert place[touch.holder.registrar] < touch.number


SITE_VALUES: dict[str, list[Any]] = {
    "time_zone": [None, "Etc/UTC", "Etc/GMT-1"],
    "holidays": [(), (date(2031, 5, 1),), (date(2031, 5, 1), date(2031, 12, 25))],
}


@st.composite
def edits_of_the_site(draw: st.DrawFn, site: Site) -> Site:
    """Return the site with one of its own fields changed that is entered in units."""
    match draw(st.sampled_from(["field", "ringing", "type"])):
        case "field":
            name = draw(st.sampled_from(sorted(SITE_VALUES)))
            return replace(site, **{name: draw(st.sampled_from(SITE_VALUES[name]))})
        case "ringing":
            mode, ring_s = draw(st.sampled_from(list(RingMode))), draw(st.sampled_from([25, 40]))
            return replace(site, choices=replace(site.choices, ring_mode=mode, ring_s=ring_s))
    key, size = draw(st.sampled_from(["vcu-direct", "vcu-directory"])), draw(st.sampled_from([0, 90]))
    widened = (replace(one, directory_max_count=size) if one.key == key else one for one in site.profiles)
    return replace(site, profiles=tuple(widened))


WINDOWS = st.builds(
    Window,
    days=st.lists(st.integers(0, 7), min_size=1, max_size=8, unique=True).map(tuple),
    start_min=st.integers(0, 1439),
    end_min=st.integers(0, 1440),
)
NEW_VALUES: dict[type[Any], dict[str, st.SearchStrategy[Any]]] = {
    Timetable: {
        "windows": st.lists(WINDOWS, max_size=3).map(tuple),
        "purpose": st.sampled_from(TimetablePurpose),
        "divert_to": st.sampled_from([None, "smu desk", "nobody"]),
        "closed_on_holidays": st.booleans(),
    },
    Divert: {
        "cause": st.sampled_from(DivertCause),
        "dwelling": st.sampled_from([None, "A/1", "B/7"]),
        "entrance": st.sampled_from([None, "gate", "at A"]),
        "desk": st.sampled_from([None, "smu desk"]),
        "timetable": st.sampled_from([None, "trades", "evening", "office hours"]),
        "to_desk": st.sampled_from([None, "smu desk"]),
        "to_dwelling": st.sampled_from([None, "B/5", "A/2"]),
    },
    ReleaseRight: {
        "door": st.sampled_from(["front", "gate door", "no door"]),
        "cores": st.sampled_from([(), ("A",), ("A", "B")]),
        "dwellings": st.sampled_from([(), ("A/1",), ("B/5", "B/6")]),
        "desks": st.sampled_from([(), ("smu desk",)]),
        "timetable": st.sampled_from([None, "trades", "evening"]),
    },
    Door: {
        "release_s": st.sampled_from([None, 3.0, 12.5]),
        "output": st.sampled_from([None, 1, 2]),
        "fail_mode": st.sampled_from([None, *FailMode]),
        "freed_by": st.sampled_from([None, "vcu A", "vcu B", "vcu gate", "smu desk"]),
        "entrance": st.sampled_from(["gate", "at A"]),
    },
    Dwelling: {"ring_mode": st.sampled_from([None, *RingMode]), "ring_s": st.sampled_from([None, 15, 60])},
}
"""What people enter in units about calls and doors, and values to give it."""


@st.composite
def edits_of_hours(draw: st.DrawFn, site: Site) -> Site:
    """Return the site with one timetable, divert, right, door or ringing changed."""
    kind = draw(st.sampled_from([kind for kind in NEW_VALUES if site.table(kind)]))
    table = site.table(kind)
    index = draw(st.integers(0, len(table) - 1))
    name = draw(st.sampled_from(sorted(NEW_VALUES[kind])))
    changed = replace(table[index], **{name: draw(NEW_VALUES[kind][name])})
    return site.with_tables({kind: (*table[:index], changed, *table[index + 1 :])})


@settings(max_examples=120, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_any_two_sites_are_led_from_one_to_the_other(data: st.DataObject) -> None:
    before = data.draw(st.sampled_from([ESTATE, *TOWNS.values()]))
    after = before
    for _ in range(data.draw(st.integers(1, 5), label="edits")):
        after = data.draw(st.one_of(edits(after), edits_of_hours(after), edits_of_the_site(after)), label="edit")
    changes = diff(before, after)
    assert apply(before, changes) == after
    assert apply(after, inverse(changes)) == before
    see_that_it_is_complete(before, after, changes)
    see_that_it_is_complete(after, before, diff(after, before))


@pytest.mark.parametrize("kind", [kind for kind in PARTS if TOWNS[True].table(kind)], ids=lambda kind: kind.KIND)
def test_each_kind_of_part_may_go_and_come(kind: type[Any]) -> None:
    for site in TOWNS.values():
        table = site.table(kind)
        for part in table[:3] + table[-3:]:
            without = site.with_tables({kind: tuple(other for other in table if other is not part)})
            see_that_it_is_complete(site, without, diff(site, without))
            see_that_it_is_complete(without, site, diff(without, site))


def test_a_type_that_gains_a_directory_is_noticed() -> None:
    site = TOWNS[False]
    widened = tuple(replace(p, directory_max_count=50) if p.key == "vcu-direct" else p for p in site.profiles)
    after = replace(site, profiles=widened)
    touched = {touch.name for touch in see_that_it_is_complete(site, after, diff(site, after)) if touch.entries}
    assert touched == {"vcu A", "vcu B"}


# the edits of people

EditOf = Callable[[Walk], Edit]


@st.composite
def edits_of_people(draw: st.DrawFn, site: Site) -> EditOf:
    """Return one edit of those that people make, with names that the site has; some are refused."""
    homes = st.sampled_from([home.door_label for home in site.dwellings])
    units = st.sampled_from([one.name for one in site.units])
    boxes = st.sampled_from([*(one.name for one in site.units), *(one.name for one in site.switches)])
    kinds: list[st.SearchStrategy[EditOf]] = [
        st.builds(_replacement, boxes, st.integers(1, 99), st.sampled_from(TYPES)),
        st.builds(_addition, st.sampled_from(["8", "9A", "Attic 10"]), st.sampled_from("AB"), st.integers(0, 10**9)),
        st.builds(lambda keep, others: partial(_merged, keep, others), homes, st.lists(homes, min_size=1, max_size=3)),
        st.builds(lambda home: lambda walk: remove_dwelling(walk, home), homes),
        st.builds(
            lambda name, to: lambda walk: move_unit(walk, name, to), units, st.one_of(homes, st.sampled_from(SPOTS))
        ),
        st.builds(_renaming, st.one_of(homes, boxes, st.sampled_from(SPOTS)), st.sampled_from("XYZ")),
        st.builds(lambda name: lambda walk: new_secret(walk, name), boxes),
        st.builds(_range, st.sampled_from([("203.0.113.0/26", "203.0.113.1"), ("192.0.2.0/25", "192.0.2.1")])),
    ]
    edit_of: EditOf = draw(st.one_of(kinds))
    return edit_of


TYPES = [None, "vcu-directory", "vcu-direct", "uru-audio", "switch-48"]
SPOTS = ["Gate", "Entrance A", "Entrance B", "Riser"]


def _replacement(name: str, number: int, profile: str | None) -> EditOf:
    return lambda walk: replace_unit(walk, name, serial=f"W{number:08d}", profile=profile, profiles=PROFILES)


def _addition(label: str, core: str, draw: int) -> EditOf:
    def edit_of(walk: Walk) -> Edit:
        new_id = new_ids(f"new {draw} {core} {label} {len(walk.all(Dwelling))} ")  # the same may be drawn twice
        return add_dwelling(walk, label, core=core, level="1", profiles=PROFILES, new_id=new_id)

    return edit_of


def _merged(keep: str, others: list[str], walk: Walk) -> Edit:
    return merge_dwellings(walk, keep, others)


def _renaming(name: str, to: str) -> EditOf:
    return lambda walk: rename(walk, f"dwelling {name}" if name.isdecimal() else name, to)


def _range(given: tuple[str, str]) -> EditOf:
    cidr, gateway = given
    return lambda walk: new_subnet(walk, "homes", cidr=cidr, gateway=gateway)


def carried_out(site: Site, edit: Edit, prefix: str) -> Site:
    chance = Random(11)  # noqa: S311  (the same each time; what it makes is no secret)
    return plan_site(apply(site, edit.changes), new_id=new_ids(prefix), choose=chance.randrange).site


def is_meant(change: Change, edit: Edit) -> bool:
    """Say whether a change is the edit's own, or issues what was missing after it."""
    match change:
        case Set(kind, ident, field, old, _):
            own = any(
                isinstance(one, Set) and (one.kind, one.id, one.field) == (kind, ident, field) for one in edit.changes
            )
            return own or old is None
        case Remove():
            return change in edit.changes
        case Add(part):
            own = any(isinstance(one, Add) and one.part.id == part.id for one in edit.changes)
            return own or isinstance(part, Key | KeyModule | SecretMark)


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_an_edit_moves_what_it_names_and_nothing_else(data: st.DataObject) -> None:
    site = TOWNS[data.draw(st.booleans(), label="with a server")]
    for number in range(data.draw(st.integers(1, 3), label="edits")):
        edit_of = data.draw(edits_of_people(site), label="edit")
        try:
            edit = edit_of(Walk(site))
        except Refused:
            continue
        after = carried_out(site, edit, f"made {number} ")
        for change in diff(site, after):
            assert is_meant(change, edit), change
        changes = diff(site, after)
        see_the_order(see_that_it_is_complete(site, after, changes))
        assert apply(after, diff(after, site)) == site
        assert carried_out(after, Edit(changes=(), message=""), f"again {number} ") == after
        site = after


def test_work_at_dwellings_goes_level_by_level() -> None:
    # hand: the addresses of all eight homes change; people walk core A, B, then the lodge, and the lower level first
    site = TOWNS[True]
    edit = new_subnet(Walk(site), "homes", cidr="203.0.113.0/26", gateway="203.0.113.1")
    after = carried_out(site, edit, "made ")
    touches = see_that_it_is_complete(site, after, diff(site, after))
    homes = [touch.name for touch in touches if isinstance(touch.holder, Unit) and touch.holder.dwelling]
    assert homes == ["uru A/1", "uru A/2", "uru second", "uru A/3", "uru A/4", "uru B/5", "uru B/6", "uru B/7",
                     "uru C/9"]  # fmt: skip


def test_a_level_given_another_name_makes_labels_and_nothing_to_enter() -> None:
    site = TOWNS[False]
    edit = rename(Walk(site), "level 1", "First")
    touches = see_that_it_is_complete(site, apply(site, edit.changes), edit.changes)
    assert {touch.name for touch in touches} == {"uru A/3", "uru A/4", "uru B/7", "S1"}
    assert all(touch.label_differs and not touch.entries for touch in touches)
