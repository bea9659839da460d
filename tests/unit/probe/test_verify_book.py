"""A book's building asked on loopback addresses: what is found, judged, kept, and gone on with after a stop."""

import signal
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from doorwright.app.means import Means
from doorwright.app.take_found import compare_found
from doorwright.app.verify_book import CAUTION, Verified, is_permitted, verify_book
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Stage, what_counts
from doorwright.kernel.trail import Act
from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import Aspect
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.probe.ask import Manner
from doorwright.probe.heard import Heard
from doorwright.probe.target import Ports
from doorwright.rules import asked
from doorwright.rules.catalogue import rules_of
from doorwright.rules.judge import judge
from doorwright.rules.rule import Facts
from doorwright.store.book import Book
from tests.unit.probe.loopback import (
    Building,
    certificate,
    http_answer,
    need_many_addresses,
    says,
    shared_ports,
    sip_answer,
)

MEANS = Means(who="A. Fitter")
SIP, HTTPS, RTSP = shared_ports(3)
PORTS = Ports(http=None, https=HTTPS, rtsp=RTSP, sip=SIP)
SIP_ALONE = Ports(http=None, https=None, rtsp=None, sip=SIP)


def unit(ident: str, last: int, kind: UnitKind = UnitKind.URU) -> Unit:
    return Unit(id=ident, name=ident.upper(), kind=kind, profile="p", address=f"127.0.0.{last}")


SITE = Site(
    name="Alder Court",
    units=(unit("v1", 2, UnitKind.VCU), unit("u1", 3), unit("u2", 4), unit("u3", 5)),
    switches=(Switch(id="s1", name="S1", profile="p", address="127.0.0.6"),),
    servers=(SipServer(id="x1", name="House server", address="127.0.0.7", port=SIP),),
    subnets=(Subnet(id="n", name="Units", cidr="127.0.0.0/24"),),
)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "alder.book"
    Book.create(path, SITE, by="Ada", at=datetime(2026, 1, 1, tzinfo=UTC), message="made").close()
    return path


@pytest.fixture
def building(tmp_path: Path) -> Iterator[Building]:
    """V1 is well; U1 is overloaded; U2's certificate ended and its clock is behind; U3 and the server are silent."""
    need_many_addresses()
    last_year, years = datetime.now(UTC) - timedelta(days=365), timedelta(days=3650)
    with Building() as one:
        one.udp("127.0.0.2", SIP, sip_answer(ahead=timedelta(seconds=3)))
        good = certificate(tmp_path, first=last_year, last=last_year + years)
        one.tcp("127.0.0.2", HTTPS, http_answer(), tls=good)
        one.tcp("127.0.0.2", RTSP, says(b"RTSP/1.0 200 OK\r\nCSeq: 1\r\n\r\n"))
        one.udp("127.0.0.3", SIP, sip_answer(503))
        one.udp("127.0.0.4", SIP, sip_answer(486))
        ended = certificate(tmp_path, first=last_year - timedelta(days=9), last=last_year)
        one.tcp("127.0.0.4", HTTPS, http_answer(ahead=timedelta(hours=-2)), tls=ended)
        one.udp("127.0.0.5", SIP, lambda _count, _request: ())
        one.udp("127.0.0.7", SIP, lambda _count, _request: ())
        yield one


def verified(book: Path, *, ports: Ports = PORTS, permitted: bool = True, **given: object) -> Verified:
    manner = Manner(asks_per_s=1000, at_once_count=8, patience_s=1, sip_patience_s=0.4, ports=ports, pings=False)
    return verify_book(book, MEANS, manner=manner, permitted=permitted, **given)  # type: ignore[arg-type]


def kept(book: Path) -> dict[str, dict[str, str]]:
    with Book.open(book, read_only=True) as opened:
        seen = what_counts(opened.observations(), Stage.FOUND)
    return {subject.id: {aspect: one.value for aspect, one in there.items()} for subject, there in seen.items()}


def test_nothing_is_asked_before_somebody_says_that_it_is_permitted(book: Path, building: Building) -> None:
    with pytest.raises(Refused) as refused:
        verified(book, permitted=False)
    assert refused.value.message.endswith(CAUTION)
    assert "--permitted" in refused.value.remedy
    assert kept(book) == {}
    assert not is_permitted(book)
    verified(book, only=["U1"])
    assert is_permitted(book)
    assert [one.target.name for one in verified(book, permitted=False, only=["U2"]).heard] == ["U2"]
    with Book.open(book, read_only=True) as opened:
        assert [noted.act for noted in opened.trail()] == [Act.ASKED, Act.ASKED]


def test_what_each_answers_is_written_down_and_told_beside_the_plan(book: Path, building: Building) -> None:
    said = verified(book)
    assert {one.target.name for one in said.heard} == {"V1", "U1", "U2", "U3", "S1", "House server"}
    found = kept(book)
    assert found["v1"][Aspect.ANSWERED] == "yes at 127.0.0.2"
    assert (found["v1"][Aspect.SIP], found["v1"][Aspect.WEB], found["v1"][Aspect.RTSP]) == ("200", "200", "200")
    assert abs(int(found["v1"][Aspect.CLOCK])) <= 2
    assert found["u1"][Aspect.SIP] == "503"
    assert abs(int(found["u2"][Aspect.CLOCK]) + 7200) <= 2
    assert found["s1"] == {Aspect.ANSWERED: "yes at 127.0.0.6"}  # it refuses, so it is there
    told = {(one.part.label, one.aspect) for one, _ in said.compared.differences}
    assert told == {
        ("U1", Aspect.SIP),
        ("U2", Aspect.CERTIFICATE),
        ("U2", Aspect.CLOCK),
        ("U3", Aspect.SIP),  # its web port refused: there, and silent over SIP
        ("House server", Aspect.SIP),
    }
    ended = next(one for one, _ in said.compared.differences if one.aspect is Aspect.CERTIFICATE)
    assert ended.said.startswith("showed a certificate that ended on ")
    assert "renew the certificate at U2" in ended.to_do
    assert compare_found(book).differences == said.compared.differences


def test_who_gives_no_answer_at_all_is_silent_and_found_so_by_the_rules(book: Path, building: Building) -> None:
    said = verified(book, ports=SIP_ALONE)
    assert set(said.silent) == {"House server", "U3"}
    assert said.no_way == ("S1",)  # nothing was left to ask it with: nothing is known of it
    assert "s1" not in kept(book)
    assert (said.compared.seen_count, said.compared.parts_count) == (3, 5)  # V1, U1, U2: silence is not seeing
    with Book.open(book, read_only=True) as opened:
        seen = what_counts(opened.observations(), Stage.FOUND)
    findings = judge(Facts(Walk(SITE), None, date(2026, 1, 2), observations=seen), rules_of(asked)).findings
    assert sorted((one.rule, one.subjects[0].id) for one in findings) == [
        ("found-server-amiss", "x1"),
        ("found-sip-amiss", "u1"),
        ("found-unit-silent", "u3"),
    ]


def test_a_run_that_was_stopped_goes_on_where_it_was(book: Path, building: Building) -> None:
    heard: list[str] = []

    def stop_after_two(one: Heard, count: int, _: int) -> None:
        heard.append(one.target.name)
        if count == 2:
            signal.raise_signal(signal.SIGINT)

    manner = Manner(asks_per_s=1000, at_once_count=1, patience_s=1, sip_patience_s=0.3, ports=PORTS, pings=False)
    with pytest.raises(KeyboardInterrupt):
        verify_book(book, MEANS, manner=manner, permitted=True, listen=stop_after_two)
    assert heard == ["House server", "S1"]
    assert set(kept(book)) == {"x1", "s1"}
    rest = verified(book)
    assert sorted(one.target.name for one in rest.heard) == ["U1", "U2", "U3", "V1"]
    assert sorted(rest.kept) == ["House server", "S1"]
    assert verified(book).heard == ()
    assert len(verified(book, again=True).heard) == 6


def test_a_new_address_in_the_plan_is_asked_at_once_and_the_old_answer_is_no_finding(
    book: Path, building: Building
) -> None:
    verified(book, ports=SIP_ALONE, only=["U3"])
    assert [one.aspect for one, _ in compare_found(book).differences] == [Aspect.ANSWERED]
    moved = replace(SITE, units=(*SITE.units[:3], replace(SITE.units[3], address="127.0.0.2")))
    moved = replace(moved, units=moved.units[1:])  # V1 makes room
    with Book.open(book) as opened:
        opened.save(moved, parent=1, by="Ada", at=datetime(2026, 1, 2, tzinfo=UTC), message="moved")
    assert compare_found(book).differences == ()
    assert [one.is_there for one in verified(book, ports=SIP_ALONE, only=["U3"]).heard] == [True]


def test_names_are_all_looked_up_before_anybody_is_asked(book: Path) -> None:
    with pytest.raises(Refused) as refused:
        verified(book, only=["u1", "U77", "S9"])
    assert [one.read for one in refused.value.mistakes] == ["U77", "S9"]
    assert kept(book) == {}


def test_a_plan_without_addresses_has_nobody_to_ask(tmp_path: Path) -> None:
    path = tmp_path / "bare.book"
    bare = replace(SITE, units=(replace(SITE.units[0], address=None),), switches=(), servers=())
    Book.create(path, bare, by="Ada", at=datetime(2026, 1, 1, tzinfo=UTC), message="made").close()
    with pytest.raises(Refused, match=r"nobody to ask \(V1: it has no address in the plan\)"):
        verified(path)


def test_only_chosen_parts_are_told_beside_the_plan(book: Path, building: Building) -> None:
    verified(book)
    said = verified(book, only=["U1"], again=True)
    assert {one.part.subject for one, _ in said.compared.differences} == {Subject(Unit.KIND, "u1")}


def test_a_book_that_takes_nothing_more_ends_the_asking(
    book: Path, building: Building, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> int:
        raise Refused("the disk is full")

    monkeypatch.setattr(Book, "observe", full)
    with pytest.raises(Refused, match="the disk is full"):
        verified(book)
