"""Differences between sites, made and undone, and the changes that are refused."""

from dataclasses import replace

import pytest

from doorwright.model.change import Add, Remove, Set, apply, diff, inverse
from doorwright.model.network import SipServer
from doorwright.model.site import Site
from tests.unit.model.small import SITE


def changed() -> Site:
    return replace(
        SITE,
        name="Alder Court, phase 2",
        dwellings=(SITE.dwellings[0], replace(SITE.dwellings[2], call_number="3")),
        servers=(SipServer(id="sip", name="SIP"),),
    )


def test_a_difference_names_fields_removals_settings_and_additions() -> None:
    assert diff(SITE, changed()) == (
        Set("site", "", "name", "Alder Court", "Alder Court, phase 2"),
        Remove(SITE.dwellings[1], 1),
        Set("dwelling", "d3", "call_number", None, "3"),
        Add(SipServer(id="sip", name="SIP"), 0),
    )


def test_equal_sites_do_not_differ() -> None:
    assert diff(SITE, replace(SITE, dwellings=tuple(replace(d) for d in SITE.dwellings))) == ()


def test_applied_it_leads_there_and_its_inverse_leads_back() -> None:
    changes = diff(SITE, changed())
    assert apply(SITE, changes) == changed()
    assert apply(changed(), inverse(changes)) == SITE


def test_what_is_added_in_the_middle_stands_there() -> None:
    before = replace(SITE, units=(SITE.units[0], SITE.units[2]))
    assert apply(before, diff(before, SITE)).units == SITE.units


@pytest.mark.parametrize(
    ("change", "fault", "message"),
    [
        (Set("unit", "gone", "name", "a", "b"), LookupError, "no unit 'gone' to set name of"),
        (Remove(replace(SITE.units[0], id="gone"), 0), LookupError, "no unit 'gone' to remove"),
        (Add(SITE.units[0], 0), LookupError, "unit 'v1' is there already"),
        (Set("unit", "v1", "name", "Other", "New"), ValueError, "name is 'Gate panel', not 'Other'"),
        (Set("site", "", "name", "Other", "New"), ValueError, "name is 'Alder Court', not 'Other'"),
    ],
)
def test_a_change_that_does_not_fit_the_site_is_refused(
    change: Add | Remove | Set, fault: type[Exception], message: str
) -> None:
    with pytest.raises(fault, match=message):
        apply(SITE, (change,))


def test_a_part_can_be_set_twice_and_removed_after() -> None:
    twice = (Set("unit", "v1", "name", "Gate panel", "A"), Set("unit", "v1", "name", "A", "B"))
    assert apply(SITE, twice).units[0].name == "B"
    with pytest.raises(ValueError, match="name is 'A'"):
        apply(SITE, (*twice[:1], Set("unit", "v1", "name", "Gate panel", "B")))
