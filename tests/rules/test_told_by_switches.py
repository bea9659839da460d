"""What switches tell, judged: where right ends and wrong begins, and what to do at which end."""

import pytest

from doorwright.model.aspect import Aspect
from doorwright.model.network import SipServer, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.at_switch import amiss_at_switch
from doorwright.rules.sound import sound_site

SITE = sound_site()
WALK = Walk(SITE)


def part(ident: str) -> Unit | Switch:
    found = WALK.find(Unit, ident) or WALK.find(Switch, ident)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("value", "right"),
    [
        ("0 of 0", True),
        ("9 of 10", True),  # fewer than ten are no sign, however few frames there were
        ("10 of 1000000", True),  # one in 100 000
        ("11 of 1000000", False),
        ("10 of 999999", False),
    ],
)
def test_ten_errors_and_one_frame_in_a_hundred_thousand_are_the_limit(value: str, right: bool) -> None:
    # IEEE 802.3 clause 40 allows one bit in 10^10: 1.2 frames of 12 144 bits in a million; ten times that is told
    said = amiss_at_switch(WALK, part("uru-2"), Aspect.ERRORS, value)
    assert (said is None) is right
    if said is not None:
        assert "cable D7" in said.to_do
        assert "S1, port 7" in said.to_do


@pytest.mark.parametrize(
    ("status", "to_do"),
    [
        ("disabled", "turn on PoE at S1, port 7"),
        ("searching", "test cable D7 pair by pair"),
        ("fault", "test cable D7 for a short"),
        ("other fault", "try another in its place"),
        ("test", "end the test at S1, port 7"),
    ],
)
def test_each_status_without_power_has_its_remedy(status: str, to_do: str) -> None:
    said = amiss_at_switch(WALK, part("uru-2"), Aspect.POE_STATUS, status)
    assert said is not None
    assert to_do in said.to_do


def test_a_switch_fed_otherwise_and_a_server_are_not_judged_by_a_port() -> None:
    server = SipServer(id="x", name="House server")
    for whose, aspect, value in ((part("switch-2"), Aspect.POE_STATUS, "searching"), (server, Aspect.SNMP, "none")):
        said = amiss_at_switch(WALK, whose, aspect, value)
        assert said is not None
        assert said.said == ""


@pytest.mark.parametrize(
    ("aspect", "value", "right"),
    [
        (Aspect.POE_BUDGET, "120", True),  # its profile: 120 W
        (Aspect.POE_BUDGET, "119", False),
        (Aspect.POE_SUPPLY, "on", True),
        (Aspect.POE_SUPPLY, "off", False),
        (Aspect.SNMP, "yes", True),
        (Aspect.SNMP, "refused", False),
        # two units of 7.5 W, and below 0.1 W each in 15 and 19 m of cable: at most 16 W in whole watts
        (Aspect.POE_GIVEN, "16", True),
        (Aspect.POE_GIVEN, "17", False),
    ],
)
def test_a_switch_is_judged_by_its_profile_and_what_it_feeds(aspect: Aspect, value: str, right: bool) -> None:
    assert (amiss_at_switch(WALK, part("switch-2"), aspect, value) is None) is right
