"""Kinds of dwellings and how many there are of each, counted by hand from the sound site.

Its main entrance serves all four dwellings, as do the rear entrance and the gate. Dwelling 101 has two receivers on
switch 1, 102 one; 201 and 202 have one each on switch 2.
"""

import pytest

from doorwright.model.calling import RingMode
from doorwright.model.change import Change, Set
from doorwright.model.network import Switch
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.site import Choices
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import both, put, put_site
from doorwright.rules.sound import sound_site
from doorwright.studies.homes import (
    callers_at,
    entrances_fed,
    home_of,
    homes_fed,
    homes_registered,
    homes_served,
    mean_ring_limit_s,
)

ALL = ("entrance-gate", "entrance-main", "entrance-rear")


def site_of() -> Walk:
    return Walk(sound_site())


def test_dwellings_alike_are_one_kind() -> None:
    walk = site_of()
    homes = homes_served(walk, walk.get(Entrance, "entrance-main"))
    assert {home.entrances for home in homes} == {ALL}
    assert sorted((len(home.receivers), count) for home, count in homes.items()) == [(1, 1), (1, 2), (2, 1)]


def test_what_a_switch_feeds() -> None:
    walk = site_of()
    low, high = (walk.get(Switch, ident) for ident in ("switch-1", "switch-2"))
    assert sorted(homes_fed(walk, low).values()) == [1, 1]
    assert list(homes_fed(walk, high).values()) == [2]
    assert entrances_fed(walk, low) == set(ALL)
    assert entrances_fed(walk, high) == frozenset()


def test_a_kind_has_the_same_count_wherever_it_is_met() -> None:
    walk = site_of()
    served = homes_served(walk, walk.get(Entrance, "entrance-gate"))
    for switch in walk.all(Switch):
        for home, count in homes_fed(walk, switch).items():
            assert served[home] == count


def test_the_homes_that_register_with_a_unit_but_its_own() -> None:
    walk = site_of()
    assert sum(homes_registered(walk, walk.get(Unit, "vcu-main")).values()) == 4
    own = Walk(put(Unit, "uru-2", registrar="uru-1")(sound_site()))
    assert sum(homes_registered(own, own.get(Unit, "uru-1")).values()) == 1
    # a receiver that registers with another of its own dwelling is no home that a registrar carries
    assert homes_registered(walk, walk.get(Unit, "uru-1")) == {}


def test_the_mean_of_the_ring_limits() -> None:
    edit = both(put_site(choices=Choices(ring_s=30)), put(Dwelling, "flat-1", ring_mode=RingMode.IN_TURN))
    walk = Walk(edit(sound_site()))
    # two receivers in turn ring for 60 s, three dwellings for 30 s: 150/4
    assert mean_ring_limit_s(homes_served(walk, walk.get(Entrance, "entrance-main"))) == pytest.approx(37.5)


@pytest.mark.parametrize(
    ("change", "alters"),
    [
        (Set("unit", "uru-2", "serial", None, "Z1"), False),
        (Set("dwelling", "flat-2", "call_number", "102", "777"), False),
        (Set("unit", "uru-2", "profile", "uru-video", "uru-audio"), True),
        (Set("dwelling", "flat-2", "ring_s", None, 45), True),
        (Set("cable run", "run-uru-2", "near", "switch-1", "switch-2"), True),
    ],
)
def test_an_edit_that_does_not_change_the_kind_goes_no_further(change: Change, alters: bool) -> None:
    walk = site_of()
    assert isinstance(change, Set)
    if change.field == "serial":
        change = Set("unit", "uru-2", "serial", walk.get(Unit, "uru-2").serial, "Z1")
    with walk.recording():
        walk.once_of(homes_served, Entrance, "entrance-main")
        walk.once_of(callers_at, Entrance, "entrance-main")
    altered = walk.after((change,)).altered
    assert ((home_of, "flat-2") in altered) == alters
    assert ((homes_served, "entrance-main") in altered) == alters
    assert (callers_at, "entrance-main") not in altered
