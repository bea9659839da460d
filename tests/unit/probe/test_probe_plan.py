"""Who is asked, when, and what of it is written down: all of it pure, on virtual time."""

import asyncio
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import NONE, UNREADABLE, Aspect
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.probe.clock import ahead_s
from doorwright.probe.heard import Heard, Reply, sightings
from doorwright.probe.neighbours import Neighbour, Neighbourhood, Table, from_listing, from_old_table
from doorwright.probe.reach import Outcome
from doorwright.probe.runner import Pace, round_of
from doorwright.probe.target import Ports, Target, targets

NOON = datetime(2031, 5, 5, 12, 0, tzinfo=UTC)


def unit(ident: str, address: str | None, kind: UnitKind = UnitKind.URU) -> Unit:
    return Unit(id=ident, name=ident.upper(), kind=kind, profile="p", address=address)


def target(ident: str, address: str = "192.0.2.22") -> Target:
    return Target(subject=Subject(Unit.KIND, ident), name=ident, address=address, ports=Ports())


# who


def test_servers_and_switches_come_before_units_and_each_has_its_own_ports() -> None:
    site = Site(
        name="Alder Court",
        units=(unit("u10", "192.0.2.30"), unit("u2", "192.0.2.22"), unit("v1", "192.0.2.10", UnitKind.VCU)),
        switches=(Switch(id="s", name="S1", profile="p", address="192.0.2.2"),),
        servers=(SipServer(id="x", name="House server", address="192.0.2.9", port=5070),),
    )
    asked, left_out = targets(Walk(site), Ports(http=8080))
    assert [one.name for one in asked] == ["House server", "S1", "U2", "U10", "V1"]
    assert left_out == ()
    assert {one.name: (one.ports.sip, one.ports.rtsp) for one in asked} == {
        "House server": (5070, None),
        "S1": (None, None),
        "U2": (5060, None),
        "U10": (5060, None),
        "V1": (5060, 554),
    }
    assert {one.ports.http for one in asked} == {8080}


@pytest.mark.parametrize(
    ("address", "reason"),
    [
        (None, "no address in the plan"),
        ("the gate", "no IP address"),
        ("192.0.2.0", "not the address of one host"),
        ("192.0.2.255", "not the address of one host"),
        ("0.0.0.0", "not the address of one host"),  # noqa: S104  (it is what must not be asked)
        ("224.0.0.1", "not the address of one host"),
        ("255.255.255.255", "not the address of one host"),
        ("9.9.9.200", "public internet"),  # outside every subnet, and of no private range (RFC 6890)
    ],
)
def test_what_is_no_single_host_of_the_plan_is_never_asked(address: str | None, reason: str) -> None:
    site = Site(name="A", units=(unit("u", address),), subnets=(Subnet(id="n", name="Units", cidr="192.0.2.0/24"),))
    asked, (left,) = targets(Walk(site), Ports())
    assert asked == ()
    assert reason in left.reason


def test_a_public_address_within_a_subnet_of_the_plan_is_asked() -> None:
    site = Site(name="A", units=(unit("u", "9.9.9.200"),), subnets=(Subnet(id="n", name="U", cidr="9.9.9.0/24"),))
    assert [one.address for one in targets(Walk(site), Ports())[0]] == ["9.9.9.200"]


def test_an_address_planned_twice_is_not_asked() -> None:
    asked, left_out = targets(Walk(Site(name="A", units=(unit("a", "192.0.2.5"), unit("b", "192.0.2.5")))), Ports())
    assert asked == ()
    assert [one.name for one in left_out] == ["A", "B"]
    assert all("planned for several" in one.reason for one in left_out)


# when


def test_asks_follow_each_other_at_the_rate_and_make_up_for_no_pause() -> None:
    pace = Pace(20.0)  # one each 0.05 s
    assert [round(pace.take(now_s), 6) for now_s in (10.0, 10.0, 10.0, 10.12, 20.0, 20.0)] == [
        10.0, 10.05, 10.1, 10.15, 20.0, 20.05,
    ]  # fmt: skip
    with pytest.raises(ValueError, match="above 0"):
        Pace(0)


def test_never_asked_comes_first_then_longest_ago_and_the_latest_rest() -> None:
    everybody = [target(name) for name in ("a", "b", "c", "d", "e")]
    minutes_ago = {"a": 10, "b": 40, "d": 50, "e": 30}
    asked_at = {
        one.subject: NOON - timedelta(minutes=minutes_ago[one.name]) for one in everybody if one.name in minutes_ago
    }
    present = round_of(everybody, asked_at, now=NOON, keep=timedelta(minutes=30))
    assert [one.name for one in present.due] == ["c", "d", "b", "e"]  # e: half an hour ago to the second
    assert [one.name for one in present.kept] == ["a"]
    assert round_of(everybody, asked_at, now=NOON, keep=timedelta(0)).kept == ()


def test_an_answer_from_a_clock_that_was_ahead_does_not_rest_for_ever() -> None:
    ahead = {target("a").subject: NOON + timedelta(days=900)}
    assert len(round_of([target("a")], ahead, now=NOON, keep=timedelta(minutes=30)).due) == 1


# the other clock


def test_the_middle_of_the_answer_is_compared() -> None:
    # RFC 9110 §5.6.7's example of a date; asked 2 s before it and heard 2 s after, so it differs by the half second
    # that a date drops, which rounds to nothing
    at = datetime(1994, 11, 6, 8, 49, 37, tzinfo=UTC)
    two = timedelta(seconds=2)
    assert ahead_s("Sun, 06 Nov 1994 08:49:37 GMT", asked_at=at - two, heard_at=at + two) == 0
    assert ahead_s("Sun, 06 Nov 1994 08:49:37 GMT", asked_at=at + 10 * two, heard_at=at + 10 * two) == -20


@pytest.mark.parametrize("text", ["", "now", "Sun, 06 Nov 99999 08:49:37 GMT", "Sun, 40 Nov 1994 08:49:37 GMT"])
def test_what_is_no_date_tells_nothing(text: str) -> None:
    assert ahead_s(text, asked_at=NOON, heard_at=NOON) is None


# who is behind an address


def test_the_listing_of_the_system_is_read() -> None:
    text = """[
      {"dst":"192.0.2.1","dev":"eth0","lladdr":"00:00:5e:00:53:01","state":["REACHABLE"]},
      {"dst":"192.0.2.2","dev":"eth0","lladdr":"00:00:5E:00:53:02","state":["STALE"]},
      {"dst":"192.0.2.3","dev":"eth0","state":["FAILED"]},
      {"dst":"192.0.2.4","dev":"eth0","lladdr":"00:00:5e:00:53:04","state":["PERMANENT"]},
      {"dst":"192.0.2.5","dev":"ib0","lladdr":"80:00:02:08:fe:80:00:00:00:00","state":["REACHABLE"]},
      {"dst":"192.0.2.6","dev":"eth0","lladdr":"00:00:00:00:00:00","state":["REACHABLE"]},
      {"dst":7}, "?", {"dst":"192.0.2.8","lladdr":"00:00:5e:00:53:08"}
    ]"""
    assert from_listing(text) == {
        "192.0.2.1": Neighbour("00-00-5E-00-53-01", is_fresh=True),
        "192.0.2.2": Neighbour("00-00-5E-00-53-02", is_fresh=False),
    }
    assert from_listing("no JSON") == from_listing("{}") == from_listing("") == {}


def test_the_older_table_is_read() -> None:
    text = (
        "IP address       HW type     Flags       HW address            Mask     Device\n"
        "192.0.2.1        0x1         0x2         00:00:5e:00:53:01     *        eth0\n"
        "192.0.2.2        0x1         0x0         00:00:00:00:00:00     *        eth0\n"
        "192.0.2.3        0x1         0x6         00:00:5e:00:53:03     *        eth0\n"
        "cut off\n192.0.2.4 0x1 what 00:00:5e:00:53:04 * eth0\n"
    )
    assert from_old_table(text) == {"192.0.2.1": Neighbour("00-00-5E-00-53-01", is_fresh=False)}


def test_only_addresses_of_the_plan_are_looked_at_and_the_table_is_read_seldom() -> None:
    read: list[int] = []

    def table() -> Table:
        read.append(1)
        return {one: Neighbour("00-00-5E-00-53-01", is_fresh=True) for one in ("192.0.2.1", "192.0.2.9")}

    moments = iter((5.0, 5.0, 5.5, 5.9, 5.9))

    async def looked() -> None:
        around = Neighbourhood(frozenset({"192.0.2.1"}), read=table, clock_s=lambda: next(moments))
        assert await around.look("192.0.2.1", at_most_s=1.0) is not None  # 5.0: read
        assert await around.look("192.0.2.9", at_most_s=1.0) is None  # 5.5: half a second old is good enough
        assert len(read) == 1
        assert await around.look("192.0.2.1") is not None  # 5.9: read anew
        assert len(read) == 2
        assert around.tells

    asyncio.run(looked())


def test_a_system_that_does_not_tell_is_told() -> None:
    async def looked() -> None:
        silent = Neighbourhood(frozenset({"192.0.2.1"}), read=lambda: None)
        assert await silent.look("192.0.2.1") is None
        assert not silent.tells

    asyncio.run(looked())


# what is written down

THERE = Heard(
    target=target("u"),
    at=NOON,
    is_there=True,
    sip=Reply(outcome=Outcome.ANSWERED, code=200),
    web=Reply(outcome=Outcome.ANSWERED),
    rtsp=Reply(outcome=Outcome.REFUSED),
    valid=(date(2030, 1, 1), date(2040, 1, 1)),
    ahead_s=-3,
    macs=("00-00-5E-00-53-07",),
)


def test_everything_heard_is_written_down() -> None:
    assert dict(sightings(THERE, {})) == {
        Aspect.ANSWERED: "yes at 192.0.2.22",
        Aspect.SIP: "200",
        Aspect.WEB: UNREADABLE,
        Aspect.CERTIFICATE: "2030-01-01 to 2040-01-01",
        Aspect.CLOCK: "-3",
        Aspect.MAC: "00-00-5E-00-53-07",
    }


def test_of_a_silent_part_only_its_silence_and_of_one_without_a_way_nothing() -> None:
    assert sightings(replace(THERE, is_there=False), {}) == ((Aspect.ANSWERED, "no at 192.0.2.22"),)
    assert sightings(replace(THERE, is_there=None), {}) == ()


def test_what_was_known_and_is_gone_is_written_down_as_gone() -> None:
    bare = replace(THERE, web=Reply(outcome=Outcome.SILENT), valid=None, ahead_s=None, macs=())
    known: dict[str, str] = dict.fromkeys((Aspect.WEB, Aspect.RTSP, Aspect.CERTIFICATE, Aspect.CLOCK), "before")
    assert dict(sightings(bare, known)) == {
        Aspect.ANSWERED: "yes at 192.0.2.22",
        Aspect.SIP: "200",
        **dict.fromkeys((Aspect.WEB, Aspect.RTSP, Aspect.CERTIFICATE, Aspect.CLOCK), NONE),
    }


def test_two_at_one_address_are_told_and_neither_is_the_parts_own() -> None:
    both = replace(THERE, macs=("00-00-5E-00-53-07", "00-00-5E-00-53-99"))
    found = dict(sightings(both, {}))
    assert found[Aspect.MACS] == "00-00-5E-00-53-07 and 00-00-5E-00-53-99"
    assert Aspect.MAC not in found
    one_again = dict(sightings(THERE, {Aspect.MACS: found[Aspect.MACS]}))
    assert one_again[Aspect.MACS] == one_again[Aspect.MAC] == "00-00-5E-00-53-07"


def test_of_a_server_no_mac_address_is_kept() -> None:
    server = replace(THERE, target=replace(target("x"), subject=Subject(SipServer.KIND, "x")))
    assert Aspect.MAC not in dict(sightings(server, {}))
