"""Registrars asked about their units on loopback: which secrets they take, where they know units to be; no trace."""

import json
import logging
import os
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from doorwright.app.means import Means
from doorwright.app.verify_registrations import VerifiedRegistrations, verify_registrations
from doorwright.cli.over_sip import registrations_as_json
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Stage, what_counts
from doorwright.kernel.trail import Act
from doorwright.model.aspect import Aspect
from doorwright.model.network import SipServer, Subnet
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.probe.ask import Manner
from doorwright.probe.registrant import Entered, registrants
from doorwright.probe.registration import Registration
from doorwright.probe.target import Ports, targets
from doorwright.rules import asked
from doorwright.rules.catalogue import rules_of
from doorwright.rules.judge import judge
from doorwright.rules.rule import Facts
from doorwright.sip.digest import Account
from doorwright.sip.guard import Guard
from doorwright.sip.message import Request, response_to
from doorwright.sip.nonces import NonceBook
from doorwright.sip.registrar import Registrar
from doorwright.sip.server import Server
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri
from doorwright.store.book import Book
from tests.unit.probe.loopback import Building, need_many_addresses, shared_ports, sip_answer

MEANS = Means(who="A. Fitter")
SIP, SERVER_PORT = shared_ports(2)
SERVER = "127.0.0.7"
GUESSED = "guessed"
SECRETS = {"v1": "hidden-of-v1", "u1": "hidden-of-u1", "u2": "hidden-of-u2", "u3": "hidden-of-u3", "u4": "hidden-of-u4"}


def receiver(ident: str, last: int, dwelling: str, position: int = 0) -> Unit:
    return Unit(
        id=ident, name=ident.upper(), kind=UnitKind.URU, profile="p", address=f"127.0.0.{last}", dwelling=dwelling,
        registrar="x1", position=position,
    )  # fmt: skip


def home(nth: int, number: str) -> Dwelling:
    return Dwelling(id=f"d{nth}", core="c", level="l", door_label=str(nth), call_number=number)


SITE = Site(
    name="Alder Court",
    dwellings=(
        home(1, "101"),
        home(2, "102"),
        home(3, "103"),
        home(4, "104"),
    ),
    units=(
        Unit(
            id="v1", name="V1", kind=UnitKind.VCU, profile="p", address="127.0.0.2", registrar="x1", call_number="7001",
            position=0,
        ),
        receiver("u1", 3, "d1"),
        receiver("u2", 4, "d2"),
        receiver("u3", 5, "d3"),
        receiver("u4", 6, "d4"),
    ),
    servers=(SipServer(id="x1", name="House server", address=SERVER, port=SERVER_PORT, realm="doors.example"),),
    subnets=(Subnet(id="n", name="Units", cidr="127.0.0.0/24"),),
)  # fmt: skip
USERS = {"v1": "7001", "u1": "101", "u2": "102", "u3": "103", "u4": "104"}
ENTERED = {ident: Entered(user=user, secret=SECRETS[ident]) for ident, user in USERS.items()}


def server(*, algorithm: str = "MD5", secrets: dict[str, str] = SECRETS, known: Sequence[str] = tuple(USERS)) -> Server:
    """A registrar that knows some units, not necessarily with the secrets of the plan."""
    accounts = [Account(username=USERS[ident], password=secrets[ident]) for ident in known]
    book = NonceBook(realm="doors.example", key=os.urandom(16), algorithms=(algorithm,))
    registrar = Registrar(
        domains=[SERVER],
        users=[USERS[ident] for ident in known],
        port=SERVER_PORT,
        guard=Guard(accounts, book=book, chance=os.urandom),
    )
    return Server(registrar, address=(SERVER, SERVER_PORT), chance=os.urandom)


def register(one: Server, ident: str, address: str, *, now_s: float) -> None:
    """Register a unit before anything is asked, without sockets: the proof goes back and forth in no time."""
    identity = Identity(uri=SipUri(user=USERS[ident], host=SERVER, port=SERVER_PORT), address=(address, 5060))
    unit = Endpoint(identity, chance=os.urandom, accounts=[Account(username=USERS[ident], password=SECRETS[ident])])
    unit.register(f"sip:{SERVER}:{SERVER_PORT}", now_s=0.0, expires_s=3600)
    for _ in range(2):
        for data, _to in unit.datagrams_to_send():
            one.receive_datagram(data, source=(address, 5060), now_s=now_s)
        for data, _to in one.datagrams_to_send():
            unit.receive_datagram(data, source=(SERVER, SERVER_PORT), now_s=0.0)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "alder.book"
    Book.create(path, SITE, by="Ada", at=datetime(2026, 1, 1, tzinfo=UTC), message="made").close()
    return path


@pytest.fixture
def building() -> Iterator[Building]:
    need_many_addresses()
    with Building() as one:
        yield one


def verified(book: Path, *, permitted: bool = True, **given: object) -> VerifiedRegistrations:
    manner = Manner(
        asks_per_s=1000, patience_s=1, sip_patience_s=1.5, ports=Ports(http=None, https=None, rtsp=None, sip=SIP)
    )
    return verify_registrations(book, MEANS, manner=manner, entered=ENTERED, permitted=permitted, **given)  # type: ignore[arg-type]


def kept(book: Path) -> dict[str, dict[str, str]]:
    with Book.open(book, read_only=True) as opened:
        seen = what_counts(opened.observations(), Stage.FOUND)
    return {subject.id: {aspect: one.value for aspect, one in there.items()} for subject, there in seen.items()}


def by_name(said: VerifiedRegistrations) -> dict[str, Registration]:
    return {one.registrant.name: one for one in said.heard}


@pytest.mark.parametrize("algorithm", ["MD5", "SHA-256"])
def test_right_secrets_are_taken_and_addresses_told(book: Path, building: Building, algorithm: str) -> None:
    house = server(algorithm=algorithm)
    register(house, "v1", "127.0.0.2", now_s=building.now_s)
    register(house, "u1", "127.0.0.3", now_s=building.now_s)
    building.drive(SERVER, SERVER_PORT, house)
    said = verified(book)
    assert [one.registrant.name for one in sorted(said.heard, key=lambda one: one.registrant.name)] == [
        "U1", "U2", "U3", "U4", "V1",
    ]  # fmt: skip
    found = kept(book)
    assert found["u1"][Aspect.REGISTRAR_SAYS] == "accepted"
    assert (found["u1"][Aspect.REGISTERED], found["u1"][Aspect.BOUND]) == ("yes", "127.0.0.3")
    assert 3500 <= int(found["u1"][Aspect.BOUND_FOR]) <= 3600  # RFC 3261 §10.3 step 8: what is left of 3600 s
    assert (found["u2"][Aspect.REGISTERED], found["u2"][Aspect.BOUND]) == ("no", "none")
    assert Aspect.BOUND_FOR not in found["u2"]
    told = {(one.part.label, one.aspect): one.to_do for one, _ in said.compared.differences}
    assert set(told) == {("U2", Aspect.REGISTERED), ("U3", Aspect.REGISTERED), ("U4", Aspect.REGISTERED)}
    assert "as House server takes its user and SIP secret, correct it at U2" in told["U2", Aspect.REGISTERED]


def test_nothing_is_changed_at_the_registrar(book: Path, building: Building) -> None:
    house = server()
    register(house, "u1", "127.0.0.3", now_s=building.now_s)
    while house.next_event() is not None:
        pass
    building.drive(SERVER, SERVER_PORT, house)
    verified(book)
    assert house.next_event() is None  # no binding was added, renewed or removed (RFC 3261 §10.2.3)


def test_a_secret_that_differs_and_a_user_that_is_not_there_are_told_at_the_right_end(
    book: Path, building: Building
) -> None:
    others = SECRETS | {"u1": "another"}
    building.drive(SERVER, SERVER_PORT, server(secrets=others, known=("v1", "u1", "u3", "u4")))
    said = verified(book, only=["U1", "U2"])
    assert {name: one.standing for name, one in by_name(said).items()} == {"U1": "refused", "U2": "refused"}
    # our registrar asks who is unknown for proof too, and takes none: nobody learns from it who exists
    told = {one.part.label: one.to_do for one, _ in said.compared.differences}
    assert "at House server enter for it SIP user 101" in told["U1"]
    with Book.open(book, read_only=True) as opened:
        seen = what_counts(opened.observations(), Stage.FOUND)
    findings = judge(Facts(Walk(SITE), None, date(2026, 1, 2), observations=seen), rules_of(asked)).findings
    assert {(one.rule, one.subjects[0].id) for one in findings} == {
        ("found-secret-refused", "u1"),
        ("found-secret-refused", "u2"),
    }


@pytest.mark.parametrize(("code", "standing", "words"), [(404, "unknown user", "enter it"), (503, None, "503")])
def test_what_a_registrar_refuses_with_tells_why(
    book: Path, building: Building, code: int, standing: str | None, words: str
) -> None:
    building.udp(SERVER, SERVER_PORT, sip_answer(code))
    said = verified(book, only=["U1"])
    assert by_name(said)["U1"].standing == standing
    ((difference, _),) = said.compared.differences
    assert words in f"{difference.said} {difference.to_do}"


def test_a_registrar_that_asks_for_no_secret_is_told(book: Path, building: Building) -> None:
    building.udp(SERVER, SERVER_PORT, sip_answer(200))
    said = verified(book, only=["U1"])
    assert by_name(said)["U1"].standing == "accepted without a secret"
    assert any("anybody" in one.said for one, _ in said.compared.differences)


def test_a_silent_registrar_says_nothing_of_who_is_registered(book: Path, building: Building) -> None:
    building.udp(SERVER, SERVER_PORT, lambda _count, _request: ())
    said = verified(book, only=["U1"])
    assert by_name(said)["U1"].is_registered is None
    assert kept(book)["u1"] == {Aspect.REGISTRAR_SAYS: "none"}


def test_an_address_that_is_not_planned_is_told(book: Path, building: Building) -> None:
    house = server()
    register(house, "u1", "127.0.0.99", now_s=building.now_s)
    register(house, "u2", "127.0.0.4", now_s=building.now_s)
    register(house, "u2", "127.0.0.5", now_s=building.now_s)  # the address of U3: two register as 102
    building.drive(SERVER, SERVER_PORT, house)
    said = verified(book, only=["U1", "U2"])
    found = kept(book)
    assert (found["u1"][Aspect.REGISTERED], found["u1"][Aspect.BOUND]) == ("yes", "127.0.0.99")
    assert found["u2"][Aspect.BOUND] == "127.0.0.4 and 127.0.0.5"
    told = {one.part.label: one for one, _ in said.compared.differences}
    assert "at U1 enter address 127.0.0.3" in told["U1"].to_do
    assert told["U2"].to_do.startswith("call number used twice")
    assert told["U2"].also == (SITE.units[3],)


def test_receivers_that_share_a_user_are_no_strangers() -> None:
    site = replace(SITE, units=(*SITE.units, receiver("u5", 8, "d1", position=1)))
    walk = Walk(site)
    everybody, _ = targets(walk, Ports())
    entered = ENTERED | {"u5": Entered(user="101", secret=SECRETS["u4"])}
    found, left_out = registrants(walk, everybody, entered)
    mates = {one.name: one.mates for one in found}
    assert mates["U1"] == mates["U5"] == {"127.0.0.3", "127.0.0.8"}
    assert mates["U2"] == {"127.0.0.4"}
    assert left_out == ()


def test_who_cannot_be_asked_about_is_told_with_the_reason() -> None:
    units = [replace(one, address=None) if one.id == "u2" else one for one in SITE.units]
    units = [replace(one, registrar="v1") if one.id == "u3" else one for one in units]
    walk = Walk(replace(SITE, units=tuple(units)))
    everybody, _ = targets(walk, Ports(sip=None))
    found, left_out = registrants(walk, everybody, {key: one for key, one in ENTERED.items() if key != "u4"})
    assert [one.name for one in found] == ["U1", "V1"]
    assert {one.name: one.reason for one in left_out} == {
        "U2": "it has no address of its own in the plan",
        "U3": "its registrar V1 is not asked over SIP",
        "U4": "it has no user or no SIP secret yet: plan the book with the vault's passphrase",
    }


def test_nothing_is_asked_without_permission_or_without_a_secret(book: Path) -> None:
    with pytest.raises(Refused, match="must permit"):
        verified(book, permitted=False)
    with pytest.raises(Refused, match="no vault"):
        verify_registrations(book, MEANS, manner=Manner(), passphrase=GUESSED, permitted=True)
    assert kept(book) == {}


def test_a_question_lost_on_the_way_is_sent_again_as_it_was(book: Path, building: Building) -> None:
    asked_of = building.udp(SERVER, SERVER_PORT, sip_answer(404, after=2))
    said = verified(book, only=["U1"])
    assert by_name(said)["U1"].standing == "unknown user"
    assert len(asked_of.requests) == 2
    assert len({one.to_bytes() for one in asked_of.requests}) == 1


def test_the_question_has_no_contact_and_the_secret_goes_nowhere(
    book: Path, building: Building, caplog: pytest.LogCaptureFixture
) -> None:
    challenge = 'Digest realm="doors.example", nonce="abc", algorithm=MD5, qop="auth"'

    def respond(count: int, request: Request) -> Sequence[bytes]:
        if count == 1:
            return (response_to(request, 401, to_tag="x", headers=[("WWW-Authenticate", challenge)]).to_bytes(),)
        return (response_to(request, 403, to_tag="x").to_bytes(),)

    asked_of = building.udp(SERVER, SERVER_PORT, respond)
    with caplog.at_level(logging.DEBUG):
        said = verified(book, only=["U1"])
    first, proved = asked_of.requests
    assert {one.method for one in asked_of.requests} == {"REGISTER"}
    assert all(one.headers.get(name) is None for one in asked_of.requests for name in ("Contact", "Expires"))
    assert (first.headers.get("Authorization"), proved.headers.get("Authorization") is not None) == (None, True)
    assert str(first.headers.to.uri) == f"sip:101@{SERVER}:{SERVER_PORT}"
    with Book.open(book, read_only=True) as opened:
        trail = [f"{one}" for one in opened.trail() if one.act is Act.ASKED]
        written = [repr(one) for one in opened.observations()]
    told = [repr(said), json.dumps(registrations_as_json(said), default=str), caplog.text, *trail, *written]
    told += [one.to_bytes().decode() for one in asked_of.requests]
    for place in told:
        assert not any(secret in place for secret in SECRETS.values())
    proof = str(proved.headers.get("Authorization")).split('response="')[1][:32]
    assert not any(proof in place for place in told[:-2])  # nor what was made of it, outside the request itself
