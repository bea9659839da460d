"""Endpoints that register with the server and call each other through it: both halves of the protocol, joined."""

import pytest

from doorwright.sip.digest import Account
from doorwright.sip.events import Answered, Connected, Ended, Informed, Invited, Progress, Refused, Replied
from doorwright.sip.guard import Guard
from doorwright.sip.nonces import NonceBook
from doorwright.sip.proxy import Manner
from doorwright.sip.registrar import Registrar
from doorwright.sip.return_path import Address
from doorwright.sip.server import Server
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri
from tests.unit.sip.wire import OFFER, Wire, chance_of, event_of, events_of

HOME: Address = ("192.0.2.1", 5060)
ENTRANCE: Address = ("192.0.2.10", 5060)
UNITS: tuple[Address, ...] = (("192.0.2.11", 5060), ("192.0.2.12", 5060))
ACCOUNTS = [Account(username=user, password=f"word of {user}", realm="192.0.2.1") for user in ("door", "205")]


def _station(address: Address, account: Account) -> Endpoint:
    identity = Identity(uri=SipUri(user=account.username, host=HOME[0]), address=address)
    return Endpoint(identity, chance=chance_of(address[0]), accounts=[account])


def joined(*, record_route: bool = False) -> tuple[Wire, Endpoint, list[Endpoint]]:
    """A server that asks for credentials, a door, and two units of one dwelling; all registered."""
    book = NonceBook(realm="192.0.2.1", key=bytes(16))
    server = Server(
        Registrar(
            domains=["192.0.2.1"], users=["door", "205"], guard=Guard(ACCOUNTS, book=book, chance=chance_of("a"))
        ),
        address=HOME,
        chance=chance_of("server"),
        guard=Guard(ACCOUNTS, book=book, chance=chance_of("b"), code=407),
        manner=Manner(record_route=record_route),
    )
    door = _station(ENTRANCE, ACCOUNTS[0])
    units = [_station(address, ACCOUNTS[1]) for address in UNITS]
    for each in (door, *units):
        each.register("sip:192.0.2.1", now_s=0.0)
    wire = Wire({HOME: server, ENTRANCE: door, **dict(zip(UNITS, units, strict=True))})
    wire.run(1.0)
    for each in (door, *units):
        assert event_of(each, Replied).code == 200
    return wire, door, units


@pytest.mark.parametrize("record_route", [False, True])
def test_a_door_calls_a_dwelling_one_unit_answers_and_a_key_is_pressed(record_route: bool) -> None:
    wire, door, (first, second) = joined(record_route=record_route)
    call = door.invite("sip:205@192.0.2.1", now_s=wire.now_s, body=OFFER)
    wire.settle()
    rung = [event_of(unit, Invited).call for unit in (first, second)]
    for unit, number in zip((first, second), rung, strict=True):
        unit.ring(number, now_s=wire.now_s)
    wire.run(wire.now_s + 4.0)
    assert {type(each) for each in events_of(door)} == {Progress}
    second.answer(rung[1], now_s=wire.now_s, body=OFFER)
    wire.run(wire.now_s + 1.0)
    assert event_of(door, Answered).call == call
    assert isinstance(event_of(second, Connected), Connected)
    assert "they gave up" in event_of(first, Ended).why  # cancelled by the server
    before = sum(1 for _, source, _ in wire.trace if source == HOME)
    second.info(rung[1], body=b"Signal=5\r\nDuration=160\r\n", now_s=wire.now_s)
    wire.settle()
    assert b"Signal=5" in event_of(door, Informed).request.body
    assert event_of(second, Replied).code == 200
    door.bye(call, now_s=wire.now_s)
    wire.settle()
    assert isinstance(event_of(second, Ended), Ended)
    # INFO, BYE and their responses pass the server only where it asked for that
    after = sum(1 for _, source, _ in wire.trace if source == HOME)
    assert (after > before) == record_route


def test_a_dwelling_that_is_busy_everywhere() -> None:
    wire, door, units = joined()
    door.invite("sip:205@192.0.2.1", now_s=wire.now_s, body=OFFER)
    wire.settle()
    for unit in units:
        unit.refuse(event_of(unit, Invited).call, now_s=wire.now_s)
    wire.run(wire.now_s + 1.0)
    assert event_of(door, Refused).code == 486
    assert all(word != "CANCEL" for word in wire.words)


def test_a_call_that_comes_through_a_poor_wire() -> None:
    """Every third datagram is lost and every fifth comes twice, the second time late."""
    wire, door, units = joined()
    wire.delays = lambda number: () if number % 3 == 0 else (0.01, 0.7) if number % 5 == 0 else (0.01,)
    call = door.invite("sip:205@192.0.2.1", now_s=wire.now_s, body=OFFER)
    wire.run(wire.now_s + 10.0)
    numbers = [event_of(unit, Invited).call for unit in units]
    units[0].answer(numbers[0], now_s=wire.now_s, body=OFFER)
    wire.run(wire.now_s + 40.0)
    assert event_of(door, Answered).call == call
    assert event_of(units[0], Connected).call == numbers[0]
    assert event_of(units[1], Ended).call == numbers[1]
