"""What the page Verify asks after the units: discovery, and switches over SNMP. Nothing leaves this machine.

Stand-ins take the place of the two probes at the seam where the use-cases call them. Real agents are asked in
tests/interop.
"""

import asyncio
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from doorwright.app import find_units, verify_switches
from doorwright.app.means import Means
from doorwright.app.people import add_person
from doorwright.kernel.person import Role
from doorwright.model.network import Subnet, Switch
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.probe.discovery import Discovered, Match
from doorwright.probe.reach import Outcome
from doorwright.probe.snmp import Community, Digest, Key, Told, User
from doorwright.probe.switch import IF_NAME, IF_STATUS, IF_TYPE, Oid, Value
from doorwright.store.book import Book
from doorwright.web.application import application
from doorwright.web.gate import Gate
from tests.unit.probe.loopback import Building, need_many_addresses, shared_ports, sip_answer
from tests.unit.web.conftest import HOST, ORIGIN

PAGE = "/books/alder/verify"
(SIP,) = shared_ports(1)
MANNER = {
    "permitted": "yes", "again": "yes", "asks_per_s": "1000", "patience_s": "0.3", "http_port": "0",
    "https_port": "0", "rtsp_port": "0", "sip_port": str(SIP), "discovery_port": "0",
}  # fmt: skip
UUID_OF = "urn:uuid:4d4e4f50-1111-2222-8333-{}"
AUTH, PRIVACY = "reads-the-ports-only", "and-in-the-dark"
ONE_PORT: dict[Oid, Value] = {
    (*IF_TYPE, 1): 6,
    (*IF_STATUS, 1): 1,
    (*IF_NAME, 1): b"port 1",
}  # ethernetCsmacd(6), up(1): RFC 2863


@pytest.fixture
def alder(tmp_path: Path) -> Path:
    folder = tmp_path / "alder"
    folder.mkdir()
    site = Site(
        name="Alder Court",
        units=tuple(
            Unit(id=f"u{n}", name=f"U{n}", kind=UnitKind.URU, profile="p", address=f"127.0.0.{n + 10}",
                 mac=f"00-00-5E-00-53-0{n}")
            for n in (1, 2)
        ),
        switches=(Switch(id="s1", name="S1", profile="p", address="127.0.0.15"),),
        subnets=(Subnet(id="n", name="Units", cidr="127.0.0.0/24"),),
    )  # fmt: skip
    made = datetime(2026, 1, 1, tzinfo=UTC)
    Book.create(folder / "alder.book", site, by="Ada", at=made, message="made").close()
    return folder


@pytest.fixture
def page(alder: Path) -> Iterator[TestClient]:
    app = application(alder, Means(who="A. Fitter"), hosts=frozenset({HOST}))
    with TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        yield client


@pytest.fixture
def opened_by(monkeypatch: pytest.MonkeyPatch) -> list[Key]:
    """The keys with which switches were asked, each of which opens them."""
    keys: list[Key] = []

    async def told(_address: str, key: Key, **_: Any) -> Told:
        keys.append(key)
        return Told(outcome=Outcome.ANSWERED, values=ONE_PORT)

    monkeypatch.setattr(verify_switches, "ask_switch", told)
    return keys


def asked(page: TestClient, **fields: str) -> Any:
    begun = page.post(PAGE, data={**MANNER, **fields}, follow_redirects=False)
    assert begun.status_code == 303, begun.text
    return ended(page)


def match(address: str, mac: str) -> Match:
    return Match(address=address, endpoint=UUID_OF.format(mac))


def ended(page: TestClient) -> Any:
    for _ in range(100_000):
        view = page.get(f"{PAGE}.json").json()
        if view["run"]["state"] != "running":
            return view
    raise AssertionError("the asking never ended")


def test_nothing_further_is_asked_unless_it_is_wanted(
    page: TestClient, opened_by: list[Key], monkeypatch: pytest.MonkeyPatch
) -> None:
    async def nobody(*_: Any, **__: Any) -> Any:
        raise AssertionError("somebody was asked")

    monkeypatch.setattr(find_units, "discover", nobody)
    monkeypatch.setattr(find_units, "ask_discovery", nobody)
    run = asked(page, snmp_community="typed, and no version chosen")["run"]
    assert (run["state"], run["asks_switches"], run["discovery"], run["ports"]) == ("done", False, None, None)
    assert opened_by == []


def test_whoever_answers_is_asked_by_discovery_and_everybody_only_on_request(
    page: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    need_many_addresses()
    probed: list[str] = []

    async def one(address: str, **given: Any) -> Discovered:
        probed.append(f"{address} port {given['port']}")
        return Discovered(outcome=Outcome.ANSWERED, matches=(match(address, "00005e005301"),))

    async def everybody(towards: str, **_: Any) -> tuple[Match, ...]:
        probed.append(f"everybody towards {towards}")
        return (
            match("127.0.0.66", "00005e005302"),
            match("127.0.0.77", "00005e005399"),
        )

    monkeypatch.setattr(find_units, "ask_discovery", one)
    monkeypatch.setattr(find_units, "discover", everybody)
    with Building() as there:
        there.udp("127.0.0.11", SIP, sip_answer(200))
        there.udp("127.0.0.12", SIP, lambda _count, _request: ())
        view = asked(page, discovery_port="3702")
        assert probed == ["127.0.0.11 port 3702"]  # U2 is silent and S1 was asked nothing: both are left alone
        assert view["run"]["discovery"]["as_planned"][0][:3] == ["127.0.0.11", "U1", "127.0.0.11"]
        probed.clear()
        view = asked(page, discover="yes")
    assert len(probed) == 1  # once, by the network that leads to an address of the plan
    assert re.fullmatch(r"everybody towards 127\.0\.0\.1[125]", probed[0])
    found = view["run"]["discovery"]
    assert [row[:3] for row in found["elsewhere"]] == [["127.0.0.66", "U2", "127.0.0.12"]]
    assert [row[:2] for row in found["strangers"]] == [["127.0.0.77", "not known"]]
    assert "1 of the plan elsewhere than planned, 1 that is not known" in found["words"]
    (wandered,) = [one for one in view["differences"]["rows"] if one["found"] == "127.0.0.66"]
    assert (wandered["part"], wandered["planned"]) == ("U2", "127.0.0.12")
    text = page.get(PAGE).text
    assert "Listed, and asked nothing." in text
    assert UUID_OF.format("00005e005399") in text


def test_a_network_that_cannot_be_asked_is_told(page: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    async def unreachable(*_: Any, **__: Any) -> Any:
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(find_units, "discover", unreachable)
    run = asked(page, discover="yes")["run"]
    assert (run["state"], run["discovery"]["no_way"]) == ("done", "Network is unreachable")
    assert "The local network was not asked: Network is unreachable." in page.get(PAGE).text


@pytest.mark.parametrize(
    ("fields", "key"),
    [
        (
            {"snmp": "3", "snmp_user": "reader", "snmp_digest": "sha512", "snmp_auth": AUTH, "snmp_privacy": PRIVACY},
            User(name="reader", auth_secret=AUTH, privacy_secret=PRIVACY, digest=Digest.SHA512),
        ),
        ({"snmp": "2c", "snmp_community": " with blanks "}, Community(" with blanks ")),
    ],
    ids=["version 3", "version 2c"],
)
def test_switches_are_asked_with_what_was_typed(
    page: TestClient, opened_by: list[Key], fields: dict[str, str], key: Key
) -> None:
    run = asked(page, **fields)["run"]
    assert opened_by == [key]
    assert [row["cells"][:4] for row in run["switches"]["rows"]] == [["S1", "127.0.0.15", "yes", "1"]]
    assert run["ports"]["rows"][0]["rows"] == [["1", "-", "-", "up", "-", "-"]]
    assert run["step"] == "asked 1 of 1 switch over SNMP"


@pytest.mark.parametrize(
    ("fields", "wrong"),
    [
        ({"snmp": "1"}, {"SNMP version"}),
        ({"snmp": "2c"}, {"Community"}),
        ({"snmp": "2c", "snmp_community": "secret\nwords"}, {"Community"}),
        ({"snmp": "3", "snmp_digest": "md5"}, {"User", "How the user proves who asks", "Authentication secret",
                                              "Privacy secret"}),
        ({"snmp": "3", "snmp_user": "reader", "snmp_auth": AUTH, "discovery_port": "x", "snmp_port": "0"},
         {"Privacy secret", "WS-Discovery port", "SNMP port"}),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_told_all_at_once_and_no_secret_with_it(
    page: TestClient, opened_by: list[Key], fields: dict[str, str], wrong: set[str]
) -> None:
    answer = page.post(PAGE, data={**MANNER, **fields}, headers={"Accept": "application/json"})
    assert answer.status_code == 422
    assert {one["where"] for one in answer.json()["mistakes"]} == wrong
    plain = page.post(PAGE, data={**MANNER, **fields}).text
    for text in (answer.text, plain):
        assert AUTH not in text
        assert "secret\nwords" not in text.replace("\\n", "\n")
    assert page.get(f"{PAGE}.json").json()["run"] is None
    assert opened_by == []


def test_a_secret_too_short_is_refused_before_anybody_is_asked(page: TestClient, opened_by: list[Key]) -> None:
    fields = {"snmp": "3", "snmp_user": "reader", "snmp_auth": "qzqzqzq", "snmp_privacy": PRIVACY}
    answer = page.post(PAGE, data={**MANNER, **fields})
    assert answer.status_code == 422
    assert "fewer than 8 characters" in answer.text  # RFC 3414 §11.2
    assert "qzqzqzq" not in answer.text
    assert page.get(f"{PAGE}.json").json()["run"] is None


def test_the_vault_is_asked_for_where_it_is_to_open_the_switches(page: TestClient, opened_by: list[Key]) -> None:
    answer = page.post(PAGE, data={**MANNER, "snmp": "2c", "snmp_vault": "yes", "snmp_passphrase": "some words"})
    assert answer.status_code == 422
    assert "no vault" in answer.text
    assert "some words" not in answer.text
    assert 'name="snmp_vault"' not in page.get(PAGE).text
    assert opened_by == []


def test_the_vault_is_opened_by_planners_alone(alder: Path, tmp_path: Path, opened_by: list[Key]) -> None:
    people = tmp_path / "people.json"
    add_person(people, "Ada", Role.ADMIN, "a dozen brass door knobs")
    add_person(people, "Di", Role.WORK, "carries the longest ladder")
    means = Means(who="A. Fitter")
    gate = Gate(people, now=means.now, steady_s=lambda: 1000.0)
    app = application(alder, means, hosts=frozenset({HOST}), gate=gate)
    with TestClient(app, base_url=f"https://{HOST}", headers={"Origin": f"https://{HOST}"}) as page:
        page.post("/sign-in", data={"name": "Ada", "password": "a dozen brass door knobs", "next": PAGE})
        asked(page)
        page.post("/sign-out")
        page.post("/sign-in", data={"name": "Di", "password": "carries the longest ladder", "next": PAGE})
        by_vault = {"snmp": "2c", "snmp_vault": "yes", "snmp_passphrase": "some words"}
        answer = page.post(PAGE, data={**MANNER, **by_vault})
        assert answer.status_code == 403
        assert "some words" not in answer.text
        assert opened_by == []
        assert asked(page, snmp="2c", snmp_community="reads")["run"]["state"] == "done"
    assert opened_by == [Community("reads")]


def test_asking_switches_is_stopped_and_what_answered_before_is_in_the_book(
    page: TestClient, alder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def never(*_: Any, **__: Any) -> Told:
        await asyncio.Event().wait()
        raise AssertionError("unreachable")

    monkeypatch.setattr(verify_switches, "ask_switch", never)
    page.post(PAGE, data={**MANNER, "snmp": "2c", "snmp_community": "reads"}, follow_redirects=False)
    for _ in range(100_000):
        if page.get(f"{PAGE}.json").json()["run"]["step"] == "asking the switches over SNMP":
            break
    page.post(f"{PAGE}/stop", follow_redirects=False)
    run = ended(page)["run"]
    assert (run["state"], run["heard_count"], run["switches"]["rows"]) == ("stopped", 3, [])
    with Book.open(alder / "alder.book", read_only=True) as book:  # nothing but SNMP asks a switch here
        assert {one.subject.id for one in book.observations()} == {"u1", "u2"}
