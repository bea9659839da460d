"""WS-Discovery: the Probe, answers that are valid, odd or hostile, and devices on this machine's own loopback."""

import asyncio
import re
import socket
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID
from xml.etree import ElementTree as ET

import pytest

from doorwright.app.find_units import FoundUnits, find_units
from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Stage, what_counts
from doorwright.model.aspect import Aspect
from doorwright.model.network import Subnet, Switch
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.probe.ask import Manner
from doorwright.probe.discovery import MOST_BYTES, Match, ask_discovery, discover, probe_of, read_matches
from doorwright.probe.named_itself import part_named
from doorwright.probe.reach import Outcome
from doorwright.store.book import Book
from tests.unit.probe.loopback import closed_port, need_many_addresses

SOAP = "http://www.w3.org/2003/05/soap-envelope"
ADDRESSING = "http://schemas.xmlsoap.org/ws/2004/08/addressing"
DISCOVERY = "http://schemas.xmlsoap.org/ws/2005/04/discovery"
UUID_OF = "urn:uuid:4d4e4f50-1111-2222-8333-{}"
ASKED = "urn:uuid:00000000-0000-4000-8000-000000000000"  # what 16 bytes of nothing make


def answer(*devices: tuple[str, str], relates_to: str = ASKED, before: str = "", within: str = "") -> bytes:
    """An answer as WS-Discovery §5.3 draws it: endpoint and scopes of each device."""
    matches = "".join(
        f"<d:ProbeMatch><a:EndpointReference><a:Address>{endpoint}</a:Address></a:EndpointReference>"
        f"<d:Types>d:Device</d:Types><d:Scopes>{scopes}</d:Scopes><d:XAddrs>http://192.0.2.7/</d:XAddrs>"
        "<d:MetadataVersion>1</d:MetadataVersion></d:ProbeMatch>"
        for endpoint, scopes in devices
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{before}<s:Envelope xmlns:s="{SOAP}" xmlns:a="{ADDRESSING}"'
        f' xmlns:d="{DISCOVERY}"><s:Header><a:MessageID>urn:uuid:1</a:MessageID><a:RelatesTo>{relates_to}</a:RelatesTo>'
        f"<a:Action>{DISCOVERY}/ProbeMatches</a:Action></s:Header><s:Body><d:ProbeMatches>{matches}{within}"
        "</d:ProbeMatches></s:Body></s:Envelope>"
    ).encode()


def read(data: bytes) -> tuple[Match, ...] | None:
    return read_matches(data, relates_to=ASKED, address="192.0.2.7")


def test_a_probe_has_what_the_standard_asks_for() -> None:
    message, ident = probe_of(bytes(range(16)))
    envelope = ET.fromstring(message)  # noqa: S314  (our own message)
    header, body = envelope
    assert (envelope.tag, header.tag, body.tag) == (f"{{{SOAP}}}Envelope", f"{{{SOAP}}}Header", f"{{{SOAP}}}Body")
    assert {one.tag: one.text for one in header} == {
        f"{{{ADDRESSING}}}Action": f"{DISCOVERY}/Probe",
        f"{{{ADDRESSING}}}MessageID": ident,
        f"{{{ADDRESSING}}}To": "urn:schemas-xmlsoap-org:ws:2005:04:discovery",
    }
    assert [one.tag for one in body] == [f"{{{DISCOVERY}}}Probe"]
    assert UUID(ident).version == 4


def test_an_answer_is_read() -> None:
    scopes = "onvif://www.onvif.org/serial/A00000007 onvif://www.onvif.org/MAC/00%3A00%3A5E%3A00%3A53%3A07"
    (match,) = read(answer((UUID_OF.format("00005e005307"), scopes))) or ()
    assert match.endpoint == UUID_OF.format("00005e005307")
    assert match.macs == {"00-00-5E-00-53-07"}
    assert "A00000007" in match.words
    assert read(answer()) == ()  # nobody matches, and says so
    assert read(answer(("", "x"))) == ()  # a device without an endpoint is none


BOMB = '<!DOCTYPE s [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
FILE = '<!DOCTYPE s [<!ENTITY a SYSTEM "file:///etc/hostname">]>'


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x00\xff" * 40,
        b"<s:Envelope",
        answer()[:-9],
        answer((UUID_OF.format("00005e005307"), "&b;"), before=BOMB),
        answer((UUID_OF.format("00005e005307"), "&a;"), before=FILE),
        answer((UUID_OF.format("00005e005307"), "&unknown;")),
        answer(before='<!DOCTYPE s SYSTEM "http://192.0.2.66/x.dtd">'),
        answer(within="<x>" * 30 + "</x>" * 30),
        answer(within="<x/>" * 1001),
        answer((UUID_OF.format("00005e005307"), "x" * MOST_BYTES)),
        answer((UUID_OF.format("00005e005307"), ""), relates_to="urn:uuid:somebody-elses"),
        answer().replace(b"UTF-8", b"no-such-code"),
        answer().replace(b"ProbeMatches>", b"ResolveMatches>"),
        probe_of(bytes(16))[0],
    ],
    ids=lambda data: f"{data[:30]!r} of {len(data)}",
)
def test_what_is_no_answer_to_us_is_passed_over(data: bytes) -> None:
    assert read(data) is None


def unit(ident: str, last: int, **values: str) -> Unit:
    return Unit(id=ident, name=ident.upper(), kind=UnitKind.URU, profile="p", address=f"127.0.0.{last}", **values)  # type: ignore[arg-type]


SITE = Site(
    name="Alder Court",
    units=(
        unit("u1", 11, mac="00-00-5E-00-53-01", serial="A00000001"),
        unit("u2", 12, mac="00-00-5E-00-53-02", serial="A00000002"),
        unit("u3", 13, serial="A00000003"),
        unit("u4", 14, mac="00-00-5E-00-53-04", serial="77"),
    ),
    switches=(Switch(id="s1", name="S1", profile="p", address="127.0.0.15", mac="00-00-5E-00-53-E1"),),
    subnets=(Subnet(id="n", name="Units", cidr="127.0.0.0/24"),),
)


@pytest.mark.parametrize(
    ("endpoint", "scopes", "part"),
    [
        (UUID_OF.format("00005e005301"), "", "u1"),  # a UUID that ends in the MAC address
        ("urn:x", "onvif://www.onvif.org/mac/00-00-5e-00-53-02", "u2"),
        ("urn:x", "onvif://www.onvif.org/serial/a00000003", "u3"),
        (UUID_OF.format("00005e005301"), "onvif://www.onvif.org/serial/A00000003", "u1"),  # the MAC address goes first
        (UUID_OF.format("00005e0053e1"), "", "s1"),
        (UUID_OF.format("00005e005301"), "x:00:00:5E:00:53:02/y", None),  # two of the plan's: nobody knows
        ("urn:x", "onvif://www.onvif.org/serial/77", None),  # too short to be no accident
        (UUID_OF.format("00005e005399"), "onvif://www.onvif.org/serial/B00000001", None),  # a stranger
        ("urn:x", "onvif://www.onvif.org/serial/A000000011", None),
    ],
)
def test_who_it_is_is_told_by_mac_address_or_else_serial_number(endpoint: str, scopes: str, part: str | None) -> None:
    found = part_named(Walk(SITE), Match(address="192.0.2.7", endpoint=endpoint, scopes=tuple(scopes.split())))
    assert (found.id if found else None) == part


# devices on loopback

Say = Callable[[str], Sequence[bytes]]
"""What a device sends for a Probe with this identifier."""


@contextmanager
def devices(places: dict[str, Say]) -> Iterator[int]:
    """Devices on loopback addresses, all at one port, which is given."""
    held: list[socket.socket] = []
    port = 0
    for address in places:
        one = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        one.bind((address, port))
        port = one.getsockname()[1]
        held.append(one)

    def serve(one: socket.socket, say: Say) -> None:
        while True:
            try:
                data, source = one.recvfrom(65_535)
            except OSError:
                return
            if not data:
                return
            found = re.search(r"<a:MessageID>([^<]*)<", data.decode())
            assert found is not None
            for each in say(found[1]):
                one.sendto(each, source)

    threads = [
        threading.Thread(target=serve, args=pair, daemon=True) for pair in zip(held, places.values(), strict=True)
    ]
    for thread in threads:
        thread.start()
    try:
        yield port
    finally:
        for one, thread in zip(held, threads, strict=True):
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as waker:
                waker.sendto(b"", one.getsockname())
            thread.join(timeout=10)
            one.close()


def says(endpoint: str, scopes: str = "") -> Say:
    return lambda ident: (answer((endpoint, scopes), relates_to=ident),)


def test_junk_before_an_answer_is_passed_over() -> None:
    good = answer((UUID_OF.format("00005e005301"), ""))
    with devices({"127.0.0.1": lambda _: (b"junk", answer(before=BOMB), good)}) as port:
        found = asyncio.run(ask_discovery("127.0.0.1", patience_s=10, chance=bytes, port=port))
    assert found.outcome is Outcome.ANSWERED
    assert [one.macs for one in found.matches] == [{"00-00-5E-00-53-01"}]


def test_who_is_not_there_refuses_or_is_silent() -> None:
    gone = closed_port(socket.SOCK_DGRAM)
    assert asyncio.run(ask_discovery("127.0.0.1", patience_s=10, chance=bytes, port=gone)).outcome is Outcome.REFUSED
    with devices({"127.0.0.1": lambda _: ()}) as port:
        quiet = asyncio.run(ask_discovery("127.0.0.1", patience_s=0.1, chance=bytes, port=port))
    assert (quiet.outcome, quiet.matches) == (Outcome.SILENT, ())


def test_one_probe_to_everybody_hears_each_device_once() -> None:
    twice = answer((UUID_OF.format("00005e005301"), ""))
    with devices(
        {"127.0.0.1": lambda _: (twice, twice, b"junk", answer((UUID_OF.format("00005e005399"), "")))}
    ) as port:
        found = asyncio.run(discover("127.0.0.1", chance=bytes, listen_s=0.5, everybody=("127.0.0.1", port)))
    assert [sorted(one.macs) for one in found] == [["00-00-5E-00-53-01"], ["00-00-5E-00-53-99"]]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "alder.book"
    Book.create(path, SITE, by="Ada", at=datetime(2026, 1, 1, tzinfo=UTC), message="made").close()
    return path


def found_in(book: Path, port: int, **given: object) -> FoundUnits:
    manner = Manner(asks_per_s=1000, patience_s=0.3)
    return find_units(book, Means(who="A. Fitter"), manner=manner, port=port, listen_s=0.5, permitted=True, **given)  # type: ignore[arg-type]


def test_units_elsewhere_are_found_and_strangers_are_told_and_left_alone(book: Path) -> None:
    need_many_addresses()
    asked: list[str] = []

    def stranger(ident: str) -> Sequence[bytes]:
        asked.append(ident)
        return (answer((UUID_OF.format("00005e005399"), ""), relates_to=ident),)

    places = {
        "127.0.0.11": says(UUID_OF.format("00005e005301")),  # U1 where it should be
        "127.0.0.12": says("urn:x", "onvif://www.onvif.org/serial/A00000003"),  # U3 at the address of U2
        "127.0.0.200": stranger,
    }
    with devices(places) as port:
        said = found_in(book, port, everywhere=True, everybody_at=("127.0.0.200", port))
    assert {(one.address, one.part, one.planned, one.is_elsewhere) for one in said.answered} == {
        ("127.0.0.11", "U1", "127.0.0.11", False),
        ("127.0.0.12", "U3", "127.0.0.13", True),
        ("127.0.0.200", None, None, False),
    }
    assert len(asked) == 1  # the one Probe to everybody, and nothing after it
    with Book.open(book, read_only=True) as opened:
        seen = what_counts(opened.observations(), Stage.FOUND)
    assert {subject.id: {aspect: one.value for aspect, one in there.items()} for subject, there in seen.items()} == {
        "u1": {Aspect.DISCOVERY: "yes", Aspect.ADDRESS: "127.0.0.11"},
        "u3": {Aspect.DISCOVERY: "yes", Aspect.ADDRESS: "127.0.0.12"},
    }
    ((difference, _),) = said.compared.differences
    assert (difference.part.label, difference.aspect, difference.planned) == ("U3", Aspect.ADDRESS, "127.0.0.13")
    assert "that of URU U2" in difference.to_do


def test_nobody_is_sought_without_permission(book: Path) -> None:
    with pytest.raises(Refused, match="owner must permit"):
        find_units(book, Means(who="A. Fitter"), manner=Manner())
