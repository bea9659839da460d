"""Where parts of a plan live on one machine: loopback addresses (RFC 1122 §3.2.1.3) that can be read, each its own."""

from ipaddress import IPv4Address

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doorwright.loopback.moving_in import crowded, moved_in
from doorwright.loopback.places import Places, Ports
from doorwright.rehearse.box import Box, Registration, Role
from doorwright.rehearse.wire import Jack

ADDRESSES = st.integers(0, 2**32 - 1).map(lambda number: str(IPv4Address(number)))


def places(*addresses: str, shared: bool = False) -> Places:
    made = Places(Ports(sip=5060, media=40000, http=8080, rtsp=8554), shared=shared)
    made.give(addresses)
    return made


def test_the_last_three_numbers_stay() -> None:
    assert places("10.20.3.7").of("10.20.3.7").address == "127.20.3.7"
    assert places().of("192.0.2.10").address == "127.0.2.10"  # not planned, and asked for


def test_where_two_would_meet_the_later_number_moves_on() -> None:
    made = places("172.16.1.5", "10.16.1.5", "10.17.1.5")
    assert [made.of(one).address for one in ("10.16.1.5", "10.17.1.5", "172.16.1.5")] == [
        "127.16.1.5",
        "127.17.1.5",
        "127.18.1.5",
    ]


def test_a_loopback_address_stays_and_special_ones_are_given_to_nobody_else() -> None:
    made = places("10.0.0.1", "127.0.0.2", "10.0.0.2", "10.255.255.255")
    assert made.of("127.0.0.2").address == "127.0.0.2"
    assert made.of("10.0.0.2").address == "127.1.0.2"
    assert made.of("10.0.0.1").address == "127.1.0.1"  # 127.0.0.1 is everybody's
    assert made.of("10.255.255.255").address == "127.0.255.255"
    assert places("127.0.0.1").of("127.0.0.1").address == "127.0.0.1"  # where it is planned there


def test_what_is_no_ipv4_address_gets_no_place() -> None:
    made = places("2001:db8::1", "not yet", "10.0.0.9")
    assert made.of("10.0.0.9").address == "127.0.0.9"
    with pytest.raises(ValueError, match="2001:db8::1"):
        made.of("2001:db8::1")


@given(st.lists(ADDRESSES, max_size=60))
def test_each_has_its_own_and_the_order_of_asking_does_not_matter(addresses: list[str]) -> None:
    one, other = places(*addresses), places(*reversed(addresses))
    given_to = {address: one.of(address).address for address in addresses}
    assert given_to == {address: other.of(address).address for address in addresses}
    assert len(set(given_to.values())) == len(given_to)
    assert all(IPv4Address(address).is_loopback for address in given_to.values())


@given(st.lists(ADDRESSES, min_size=1, max_size=60, unique=True))
def test_where_there_is_one_address_each_has_ports_of_its_own(addresses: list[str]) -> None:
    made = places(*addresses, shared=True)
    there = [made.of(address) for address in addresses]
    assert {place.address for place in there} == {"127.0.0.1"}
    over_udp = [port for place in there for port in (place.ports.sip, place.ports.media, place.ports.media + 2)]
    over_tcp = [port for place in there for port in (place.ports.http, place.ports.rtsp)]
    assert len(set(over_udp)) == len(over_udp)
    assert len(set(over_tcp)) == len(over_tcp)


def test_5000_parts_at_one_address_have_ports_that_exist() -> None:
    made = places(*(str(IPv4Address(0x0A000001 + n)) for n in range(5000)), shared=True)
    last = made.of("10.0.19.136").ports  # 5000 = 19 x 256 + 136
    assert max(last.sip, last.media + 3, last.http, last.rtsp) < 65536


def box(ident: str, address: str, **values: object) -> Box:
    jack = Jack(address=address, cidr="10.0.0.0/24", gateway="10.0.0.1", segment=5, mac=f"of {ident}")
    fields = {"id": ident, "name": ident, "role": Role.URU, "jack": jack, "user": ident} | values
    return Box(**fields)  # type: ignore[arg-type]


def entered(address: str, port: int) -> Registration:
    return Registration(address=address, port=port, user="u", secret="s")  # noqa: S106


def test_what_is_entered_in_a_box_moves_with_it() -> None:
    server = box("server", "10.0.0.2", role=Role.SERVER, sip_port=5070)
    unit = box("unit", "10.0.0.3", registers=entered("10.0.0.2", 5070))
    lost = box("lost", "10.0.0.4", registers=entered("10.0.0.77", 5060))
    boxes = {one.id: one for one in (server, unit, lost)}
    made = Places(Ports(sip=15060, media=41000, http=18080, rtsp=18554))
    made.give(one.jack.address for one in boxes.values())
    there = {one.box.id: one for one in moved_in(boxes, made)}
    assert (there["server"].box.jack.address, there["server"].box.sip_port) == ("127.0.0.2", 5070)  # as planned
    assert (there["unit"].box.sip_port, there["unit"].box.media_port, there["unit"].http_port) == (15060, 41000, 18080)
    assert there["unit"].box.registers == entered("127.0.0.2", 5070)
    assert there["lost"].box.registers == entered("127.0.0.77", 15060)  # where nobody lives
    assert there["unit"].planned is unit


def test_something_real_is_asked_at_the_port_of_the_plan() -> None:
    boxes = {
        "gate": box("gate", "10.0.0.2"),
        "unit": box("unit", "10.0.0.3", registers=entered("10.0.0.2", 5060)),
    }
    made = Places(Ports(sip=15060))
    tenants = {one.box.id: one.box for one in moved_in(boxes, made, real=("gate",))}
    assert tenants["unit"].registers == entered("127.0.0.2", 5060)
    assert tenants["unit"].sip_port == 15060


def test_an_address_twice_is_seen_unless_one_of_both_is_dark_or_left_out() -> None:
    one, other = box("one", "10.0.0.2"), box("other", "10.0.0.2")
    assert [(c.address, c.names) for c in crowded({"one": one, "other": other})] == [("10.0.0.2", ("one", "other"))]
    assert crowded({"one": one, "other": other}, left_out=("other",)) == ()
    dark = Jack(address="10.0.0.2", cidr="10.0.0.0/24", gateway=None, segment=5, mac="x", link=False)
    assert crowded({"one": one, "dark": box("dark", "10.0.0.2", jack=dark)}) == ()
