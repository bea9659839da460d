"""The clock and the network of the rehearsed building."""

import pytest

from doorwright.rehearse.wire import ANSWERS_FOR_S, Carried, Jack, Net, Spot, Wire
from doorwright.rehearse.world import World

NETS = (Net("192.0.2.0/25", "192.0.2.1", 20), Net("198.51.100.0/24", "198.51.100.1", 21))


class Ear:
    """Hears what comes."""

    def __init__(self) -> None:
        self.heard: list[tuple[bytes, Spot, int]] = []

    def receive(self, data: bytes, *, source: Spot, port: int) -> None:
        self.heard.append((data, source, port))


def door(number: int, **values: object) -> Jack:
    fields = {
        "address": f"192.0.2.{number}", "cidr": "192.0.2.0/25", "gateway": "192.0.2.1", "segment": 20,
        "mac": f"00-00-5E-00-53-{number:02X}",
    }  # fmt: skip
    return Jack(**{**fields, **values})  # type: ignore[arg-type]


HOME = Jack(address="198.51.100.9", cidr="198.51.100.0/24", gateway="198.51.100.1", segment=21, mac="00-00-5E-00-53-99")


def wire_of(world: World, *jacks: Jack, loss_ratio: float = 0.0) -> tuple[Wire, list[Ear]]:
    wire = Wire(world, nets=NETS, chance=World().chance("wire"), delay_s=0.25, loss_ratio=loss_ratio)
    ears = [Ear() for _ in jacks]
    for jack, ear in zip(jacks, ears, strict=True):
        wire.plug(jack, ear)
    return wire, ears


def test_what_is_due_happens_in_order_and_of_the_same_moment_in_the_order_arranged() -> None:
    world, done = World(), []
    world.at(2.0, lambda: done.append("later"))
    world.at(1.0, lambda: done.append("first"))
    world.at(1.0, lambda: done.append("second"))
    world.run_until(1.5)
    assert done == ["first", "second"]
    assert world.now_s == 1.5
    world.at(0.5, lambda: done.append("late, so at once"))
    world.run_until(3.0)
    assert done == ["first", "second", "late, so at once", "later"]


def test_it_stops_when_it_is_done_and_the_clock_stands_there() -> None:
    world, done = World(), []
    world.at(1.0, lambda: done.append(1))
    world.at(2.0, lambda: done.append(2))
    assert world.run_until(9.0, done=lambda: bool(done))
    assert (done, world.now_s) == ([1], 1.0)


def test_chance_is_a_components_own() -> None:
    one, other = World(seed=5), World(seed=5)
    one.chance("a").random()
    assert one.chance("b").random() == other.chance("b").random()
    assert one.chance("a").random() != one.chance("b").random()
    assert World(seed=6).chance("b").random() != one.chance("b").random()


def test_a_packet_comes_after_the_delay_with_its_source() -> None:
    world = World()
    wire, (_, there) = wire_of(world, door(2), door(3))
    wire.send(b"x", jack=door(2), source_port=5060, to=("192.0.2.3", 7))
    world.run_until(0.2)
    assert there.heard == []
    world.run_until(0.25)
    assert there.heard == [(b"x", ("192.0.2.2", 5060), 7)]


@pytest.mark.parametrize(
    ("one", "other", "reached"),
    [
        (door(2), door(3), True),
        (door(2), HOME, True),  # through the gateways
        (HOME, door(2), True),
        (door(2), door(3, segment=21), False),  # near by its mask, in another VLAN: nobody answers
        (door(2, segment=21), HOME, False),  # its gateway is not in that VLAN
        (door(2, gateway="192.0.2.77"), door(3), True),  # near: no gateway needed
        (door(2, gateway="192.0.2.77"), HOME, False),
        (HOME, door(2, gateway="192.0.2.77"), False),  # the echo does not come home
        (door(2, gateway=None), HOME, False),
        (door(2, link=False), door(3), False),
        (door(2), door(3, link=False), False),
        (door(2, cidr="192.0.2.2/32"), door(3), True),  # too narrow a mask: through the gateway, which knows
    ],
)
def test_who_reaches_whom(one: Jack, other: Jack, reached: bool) -> None:
    # by hand, from RFC 1122 §3.3.1.1: near addresses are asked for in one's own VLAN, others go to the gateway
    wire, _ = wire_of(World(), one, other)
    assert wire.reaches(one, other.address) is reached


def test_two_boxes_with_one_address_answer_in_turn() -> None:
    world = World()
    wire, (_, first, second) = wire_of(world, door(2), door(3), door(3, mac="00-00-5E-00-53-77"))
    for _ in range(4):
        wire.send(b"x", jack=door(2), source_port=5060, to=("192.0.2.3", 7))
        world.run_until(world.now_s + ANSWERS_FOR_S)
    assert (len(first.heard), len(second.heard)) == (2, 2)


def test_lost_packets_are_told_and_do_not_come() -> None:
    world, told = World(), []
    wire, (_, there) = wire_of(world, door(2), door(3), loss_ratio=0.5)
    wire.heard = lambda carried: told.append(carried.arrived)
    for _ in range(200):
        wire.send(b"x", jack=door(2), source_port=5060, to=("192.0.2.3", 7))
    world.run_until(1.0)
    assert told.count(True) == len(there.heard)
    assert 60 < len(there.heard) < 140  # half of 200; six standard deviations of 7 on either side


def test_who_sent_and_who_takes_a_packet_is_told() -> None:
    told: list[Carried] = []
    wire, _ = wire_of(World(), door(2), door(3), HOME)
    wire.heard = told.append
    for number in (3, 9):
        wire.send(b"x", jack=door(2), source_port=5060, to=(f"192.0.2.{number}", 7))
    assert [(one.source, one.jack, one.taker, one.arrived) for one in told] == [
        (("192.0.2.2", 5060), door(2), door(3), True),
        (("192.0.2.2", 5060), door(2), None, False),
    ]
