"""The small yard on loopback sockets and the real clock: what each call must do is said by hand, from yard.py."""

import asyncio
import socket
import stat
from collections.abc import Iterator
from csv import DictReader
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.app.means import Means
from doorwright.app.rehearse_on_wire import News, OnWire, Open, Up, Wish, rehearse_on_wire
from doorwright.kernel.errors import Refused
from doorwright.loopback.loop_time import LoopTime
from doorwright.loopback.moving_in import Tenant
from doorwright.loopback.wired import Wired
from doorwright.model.walk import Walk
from doorwright.rehearse.box import Box
from doorwright.rehearse.journal import Deed
from doorwright.rehearse.planned import planned
from doorwright.rehearse.rehearsal import Played
from doorwright.rehearse.wire import Jack, Spot
from tests.interop.sip_phone import Phone
from tests.rehearsal import on_wire
from tests.rehearsal.yard import YARD

REGISTERING = {"vcu-porch", "smu", "uru-1", "uru-2", "uru-2b", "uru-3", "uru-4"}  # all but the gate, their registrar
PORTS = on_wire.ports()
MEANS = Means(who="A. Fitter")
GATE = "127.0.2.10"  # 192.0.2.10 in the plan


@pytest.fixture(autouse=True)
def _addresses() -> None:
    on_wire.need_loopback_addresses()


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return on_wire.book_of(YARD, tmp_path)


def lived(book: Path, **wish: object) -> OnWire:
    return rehearse_on_wire(book, MEANS, Wish(ports=PORTS, stay_s=0, **wish))  # type: ignore[arg-type]


def is_free(spot: Spot) -> bool:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        try:
            one.bind(spot)
        except OSError:
            return False
    return True


# all at once


@pytest.mark.parametrize("shared", [False, True], ids=["an address each", "one address"])
def test_all_register_and_a_call_rings_is_heard_and_frees_both_doors(book: Path, shared: bool) -> None:
    told: list[Open | News | Up] = []
    wish = Wish(ports=PORTS, stay_s=0, call="Porch unit:0.1", shared=shared)
    if shared:
        wish = replace(wish, call="Porch unit: key 0.1")
    made = rehearse_on_wire(book, MEANS, wish, watch=told.append)
    assert set(made.registered) == REGISTERING
    assert made.refused == ()
    assert {address for address, _ in made.addresses.values()} == (
        {"127.0.0.1"}
        if shared
        else {f"127.0.2.{n}" for n in (10, 11, 12)} | {f"127.51.100.{n}" for n in (11, 12, 13, 14, 22)}
    )
    assert isinstance(made.call, Played)
    happened = made.call.happened
    assert (happened.rang, happened.took) == ((frozenset({"uru-1"}),), "uru-1")
    assert happened.freed == {("1", "door-porch"), ("2", "door-store")}  # 01 may free the store
    assert happened.both_heard
    assert made.as_planned
    deeds = [one.entry.deed for one in told if isinstance(one, News)]
    assert deeds.count(Deed.REGISTERED) == len(REGISTERING)
    assert [type(one) for one in told if not isinstance(one, News)] == [Open, Up]
    assert is_free((GATE, PORTS.sip))  # all is closed again


def test_a_call_that_goes_otherwise_is_told(book: Path) -> None:
    made = lived(book, call="Porch unit:0.1", faults=("release-digit:Porch unit",))
    assert isinstance(made.call, Played)
    assert made.call.happened.freed == frozenset()
    assert not made.as_planned


# refused before anything begins


def test_a_port_that_is_taken_is_named_and_nothing_stays_open(book: Path) -> None:
    last = ("127.51.100.14", PORTS.sip)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind(last)
        with pytest.raises(Refused, match=f"127.51.100.14, UDP port {PORTS.sip} is taken"):
            lived(book)
    assert is_free((GATE, PORTS.sip))


def test_an_address_twice_cannot_be_had_on_one_machine(book: Path) -> None:
    with pytest.raises(Refused) as refused:
        lived(book, faults=("address-twice:Receiver 1",))
    (mistake,) = refused.value.mistakes
    assert "Receiver 1" in mistake.problem
    assert "--wire" in mistake.remedy


@pytest.mark.parametrize(
    ("wish", "names"),
    [
        ({"without": ("Receiver 7", "Nobody")}, "Receiver 7"),
        ({"without": ("Porch unit",), "call": "Porch unit:0.1"}, "Porch unit"),
        ({"without": ("Receiver 3",), "faults": ("muted:Receiver 3",)}, "Receiver 3"),
    ],
)
def test_what_does_not_fit_is_refused(book: Path, wish: dict[str, object], names: str) -> None:
    with pytest.raises(Refused) as refused:
        lived(book, **wish)
    assert names in str(refused.value.mistakes)


@pytest.mark.parametrize(
    ("call", "there"),
    [("Gate unit", "Porch unit"), ("Attic unit:01", "Gate unit"), ("Porch unit:9.9", "0.1"), ("Gate unit:99", "04")],
)
def test_a_call_that_nobody_can_make_is_refused_with_those_that_are(book: Path, call: str, there: str) -> None:
    with pytest.raises(Refused) as refused:
        lived(book, call=call)
    assert there in refused.value.remedy


# real peers


@pytest.fixture
def phones() -> Iterator[list[Phone]]:
    made: list[Phone] = []
    yield made
    for phone in made:
        phone.socket.close()


def test_a_real_phone_takes_the_place_of_a_receiver(book: Path, tmp_path: Path, phones: list[Phone]) -> None:
    accounts = tmp_path / "accounts.csv"
    options = ("--without", "Receiver 1", "--accounts", str(accounts))
    with on_wire.OnWire(book, PORTS, *options) as wire:
        assert stat.S_IMODE(accounts.stat().st_mode) == 0o600
        rows = {row["unit"]: row for row in DictReader(accounts.read_text(encoding="utf-8").splitlines())}
        assert len(rows) == len(REGISTERING)
        told = rows["Receiver 1"]
        assert (told["registers at"], int(told["SIP port"])) == (GATE, PORTS.sip)
        phone = Phone(told["user"], told["secret"], GATE, told["its own place"], (GATE, PORTS.sip))
        phones.append(phone)
        assert [one.code for one in phone.register()] == [401, 200]
        wrong = Phone(told["user"], "guessed", GATE, told["its own place"], (GATE, PORTS.sip))
        phones.append(wrong)
        assert [one.code for one in wrong.register()] == [401, 401]
        # whoever is registered may call: the phone calls home 03, where somebody is and answers after two rings
        call = phone.request("INVITE", f"sip:03@{GATE}", "03")
        offer = (
            "v=0\r\no=- 1 1 IN IP4 127.0.0.1\r\ns=-\r\nc=IN IP4 127.0.0.1\r\nt=0 0\r\n"
            f"m=audio {phone.socket.getsockname()[1]} RTP/AVP 0\r\na=rtpmap:0 PCMU/8000\r\n"
        )
        call = replace(call, headers=call.headers.adding("Content-Type", "application/sdp"), body=offer.encode())
        phone.send(call)
        taken = phone.final(call)
        assert taken.code == 200
        assert f"m=audio {PORTS.media} ".encode() in taken.body
        phone.send(phone.within("ACK", call, taken))
        bye = phone.within("BYE", call, taken)
        phone.send(bye)
        assert phone.final(bye).code == 200
        assert accounts.exists()
    assert wire.said("Receiver 3", "rang")
    assert wire.said("SECRET", str(accounts))
    assert told["secret"] not in "\n".join(wire.lines)


def test_stopped_it_closes_all_and_says_what_it_came_to(book: Path) -> None:
    wire = on_wire.OnWire(book, PORTS)
    with wire:
        assert not is_free((GATE, PORTS.sip))
    assert wire.stop() == 0
    assert wire.said("7 of 7 registered")
    assert is_free((GATE, PORTS.sip))


# the planned network decides who reaches whom


class Taker:
    """Whoever hangs on the wire and notes what comes."""

    def __init__(self) -> None:
        self.came = asyncio.Event()
        self.taken: list[bytes] = []

    def receive(self, data: bytes, *, source: Spot, port: int) -> None:
        self.taken.append(data)
        self.came.set()


def test_vlans_and_gateways_hold_on_the_wire_too() -> None:
    plan = planned(Walk(YARD))

    def tenant(ident: str, **jack: object) -> Tenant:
        box = plan.boxes[ident]
        box = replace(box, jack=replace(box.jack, **jack), sip_port=PORTS.sip, media_port=PORTS.media)  # type: ignore[arg-type]
        last = box.jack.address.rpartition(".")[2]
        moved = replace(box, jack=replace(box.jack, address=f"127.0.3.{last}"))
        return Tenant(box=moved, planned=box, http_port=PORTS.http, rtsp_port=PORTS.rtsp)

    gate, well = tenant("vcu-gate"), tenant("uru-1")
    astray = tenant("uru-2", segment=99)
    lost = tenant("uru-3", gateway="198.51.100.129")

    async def carried() -> dict[str, list[bytes]]:
        wired = Wired(LoopTime(), plan.nets)
        takers = {one.box.id: Taker() for one in (gate, well, astray, lost)}
        for one in (gate, well, astray, lost):
            wired.plug(one, takers[one.box.id])
        try:
            for one in (gate, well, astray, lost):
                await wired.open(one, takers[one.box.id])

            def send(one: Box, other: Box) -> None:
                to = (other.jack.address, PORTS.sip)
                wired.send(one.id.encode(), jack=one.jack, source_port=PORTS.sip, to=to)

            for other in (astray, lost, well):  # another VLAN; in it, but no way back; as planned
                send(gate.box, other.box)
            for one in (astray, lost, well):
                send(one.box, gate.box)
            send(well.box, lost.box)  # near: no gateway needed
            async with asyncio.timeout(on_wire.OVER_WITHIN_S):
                for ident in ("vcu-gate", "uru-1", "uru-3"):
                    await takers[ident].came.wait()
                while b"uru-1" not in takers["uru-3"].taken:  # datagrams of one sender come in order on loopback
                    takers["uru-3"].came.clear()
                    await takers["uru-3"].came.wait()
        finally:
            wired.close()
        return {ident: taker.taken for ident, taker in takers.items()}

    taken = asyncio.run(carried())
    assert taken == {
        "vcu-gate": [b"uru-1"],  # from the one in another VLAN nothing comes, nor over a gateway that is none
        "uru-1": [b"vcu-gate"],
        "uru-2": [],
        "uru-3": [b"vcu-gate", b"uru-1"],
    }


def test_whoever_asks_from_outside_meets_only_what_the_gateways_find() -> None:
    plan = planned(Walk(YARD))
    jack = plan.boxes["uru-1"].jack

    async def met() -> list[bool]:
        wired = Wired(LoopTime(), plan.nets)
        nowhere = Jack(address="192.168.1.100", cidr="192.168.1.0/24", gateway=None, segment=21, mac="x")
        altered = (jack, replace(jack, segment=99), replace(jack, gateway="198.51.100.7"), replace(jack, link=False))
        return [wired.meets_others(one) for one in (*altered, nowhere)]

    assert asyncio.run(met()) == [True, False, False, False, True]  # the last has lost its settings, and answers


def test_a_timetable_is_kept_by_the_clock_on_the_sites_wall(tmp_path: Path) -> None:
    at_seven = Means(who="A. Fitter", now=lambda: datetime(2026, 7, 6, 7, 0, tzinfo=UTC))  # a Monday
    there = on_wire.book_of(replace(YARD, time_zone="Asia/Kathmandu"), tmp_path)  # where it is 12:45
    made = rehearse_on_wire(there, at_seven, Wish(ports=PORTS, stay_s=0, call="Gate unit:01"))
    assert isinstance(made.call, Played)
    assert made.call.happened.took == "smu"  # on weekdays from 8 to 18 the desk takes the calls of the gate
