"""Faults on purpose as `verify --rehearsed` meets them: at the registrars with the vault's secrets, and in test calls.

The trade's table of causes and looks (common practice) says what each cause looks like; RFC 3261 which code says it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from doorwright.app.call_rehearsed import call_rehearsed
from doorwright.app.call_unit import CalledUnit
from doorwright.app.demo import PASSPHRASE
from doorwright.app.means import Means
from doorwright.app.plan_book import plan_book
from doorwright.app.tell_over_sip import call_notes, call_words
from doorwright.app.vault import set_passphrase
from doorwright.app.verify_book import is_permitted
from doorwright.app.verify_registrations import VerifiedRegistrations
from doorwright.app.verify_rehearsed_registrations import verify_rehearsed_registrations
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Stage
from doorwright.kernel.trail import Act
from doorwright.model.aspect import ELSEWHERE, NONE, NOT_TAKEN, Aspect, Standing
from doorwright.model.profile import SecretPolicy
from doorwright.probe.ask import Manner
from doorwright.probe.call import CallManner
from doorwright.probe.reach import Outcome
from doorwright.probe.registration import Registration
from doorwright.store.book import Book
from tests.rehearsal import on_wire
from tests.rehearsal.yard import YARD

PORTS = on_wire.ports()
MEANS = Means(who="A. Fitter")
MANNER = Manner(asks_per_s=1000, patience_s=5, sip_patience_s=5)
SHORT = CallManner(patience_s=5.0, ring_s=5.0, talk_s=1.5)
RINGS_ONLY = CallManner(patience_s=5.0, ring_s=3.0, talk_s=1.5)
"""A second longer than whoever is at home takes until they answer (docs/howto/rehearse-on-the-wire.md: two)."""
FAULTS = (
    "wrong-secret:Receiver 2 bedroom",
    "number-twice:Receiver 3",
    "not-entered:Receiver 4",
    "speech-address:Desk",
    "codec-not-shared:Receiver 4",
    "muted:Receiver 1",
)
REGISTERING = {
    "Porch unit", "Desk", "Receiver 1", "Receiver 2", "Receiver 2 bedroom", "Receiver 3", "Receiver 4",
}  # fmt: skip


@dataclass
class World:
    """A building with faults, and what its registrars said."""

    book: Path
    registrations: VerifiedRegistrations

    def of(self, name: str) -> Registration:
        return next(one for one in self.registrations.heard if one.registrant.name == name)

    def call(self, name: str, *, as_unit: str | None = None, manner: CallManner = SHORT) -> CalledUnit:
        return call_rehearsed(
            self.book, MEANS, name=name, ports=PORTS, manner=manner, as_unit=as_unit, passphrase=PASSPHRASE
        )


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    on_wire.need_loopback_addresses()
    policy = SecretPolicy(length_min_count=12, length_max_count=12, alphabet="letters and digits")
    with_secrets = replace(YARD, profiles=tuple(replace(one, sip_secret=policy) for one in YARD.profiles))
    path = on_wire.book_of(with_secrets, tmp_path_factory.mktemp("met"))
    set_passphrase(path, PASSPHRASE, MEANS)
    plan_book(path, MEANS, PASSPHRASE)
    return path


@pytest.fixture(scope="module")
def world(book: Path) -> Iterator[World]:
    secret = book.with_name("passphrase.txt")
    secret.write_text(PASSPHRASE + "\n", encoding="utf-8")
    faults = [text for fault in FAULTS for text in ("--fault", fault)]
    with on_wire.OnWire(book, PORTS, "--vault-secrets", "--passphrase-file", str(secret), *faults):
        yield World(book, asked(book))


def asked(book: Path, passphrase: str = PASSPHRASE) -> VerifiedRegistrations:
    return verify_rehearsed_registrations(book, MEANS, manner=MANNER, ports=PORTS, passphrase=passphrase)


def aspects_of(book: Path, name: str) -> dict[str, str]:
    """Return what the book holds of a unit, all of it rehearsed."""
    with Book.open(book, read_only=True) as opened:
        (unit,) = [one for one in opened.site().units if one.name == name]
        observations = [one for one in opened.observations() if one.subject == unit.subject]
    assert {one.stage for one in observations} == {Stage.REHEARSED}
    return {one.aspect: one.value for one in observations}


# at the registrars


def test_each_registration_is_asked_about(world: World) -> None:
    assert {one.registrant.name for one in world.registrations.heard} == REGISTERING
    differing = {line.part.name for line in world.registrations.compared.lines}
    assert {"Receiver 2 bedroom", "Receiver 3", "Receiver 4"} <= differing
    assert not differing & {"Porch unit", "Desk"}
    assert all(line.at == (Stage.REHEARSED,) and line.to_do for line in world.registrations.compared.lines)


def test_what_is_right_is_accepted_at_its_planned_address(world: World) -> None:
    for name in ("Porch unit", "Desk"):
        one = world.of(name)
        assert one.standing is Standing.ACCEPTED
        assert [each.host for each in one.bindings or ()] == [one.registrant.address]


def test_a_wrong_secret_at_the_unit_leaves_the_registrar_right_and_the_unit_nowhere(world: World) -> None:
    """The registrar takes the vault's secret, so it is the unit that differs (RFC 3261 §10.3: no binding is listed)."""
    one = world.of("Receiver 2 bedroom")
    assert (one.standing, one.bindings) == (Standing.ACCEPTED, ())
    (line,) = [line for line in world.registrations.compared.lines if line.part.name == "Receiver 2 bedroom"]
    assert (line.aspect, line.rehearsed) == (Aspect.REGISTERED, "no")
    assert "secret" in line.to_do


def test_a_number_used_twice_is_bound_at_two_addresses_and_its_own_is_unknown(world: World) -> None:
    """RFC 3261 §10.3 step 5: an address of record that is not known is answered 404."""
    assert world.of("Receiver 3").standing is Standing.UNKNOWN
    twice = [one for one in world.registrations.heard if one.elsewhere]
    assert [one.elsewhere for one in twice] == [("198.51.100.13",)]  # Receiver 3, by tests/rehearsal/yard.py
    assert {one.registrant.name for one in twice} <= {"Receiver 1", "Receiver 2"}
    lines = [one for one in world.registrations.compared.lines if one.aspect == Aspect.BOUND]
    assert [one.part.name for one in lines] == [one.registrant.name for one in twice]
    assert "Receiver 3 (dwelling 03) has that address in the plan" in lines[0].to_do


def test_what_is_not_entered_is_unknown(world: World) -> None:
    one = world.of("Receiver 4")
    assert (one.standing, one.reply.code) == (Standing.UNKNOWN, 404)
    (line,) = [line for line in world.registrations.compared.lines if line.part.name == "Receiver 4"]
    assert line.to_do.startswith("at Gate unit enter it")


# in test calls


def test_a_good_unit_is_heard_through_its_registrar(world: World) -> None:
    """02 rings its receivers in turn; nothing is lost on loopback. ITU-T G.107: 93.2 at the most, less for delay."""
    one = world.call("Receiver 2", as_unit="Porch unit")
    assert one.through == "Gate unit as Porch unit"
    assert one.called.taken
    assert one.called.heard is not None
    assert one.called.heard.lost_count == 0
    assert one.to_us is not None
    assert 80.0 < one.to_us.rating_points <= 93.2
    assert one.compared.lines == ()


def test_speech_sent_to_a_wrong_address_goes_nowhere(world: World) -> None:
    one = world.call("Desk")
    assert one.called.taken
    assert one.called.strays
    assert one.called.sent_count == 0
    assert "not in the plan" in call_words(one.called)
    assert aspects_of(world.book, "Desk")[Aspect.SPEECH] == ELSEWHERE
    (line,) = one.compared.lines
    assert (line.aspect, line.planned) == (Aspect.SPEECH, "heard both ways")


def test_a_codec_that_is_not_shared_is_refused(world: World) -> None:
    """RFC 3261 §21.4.26: 488, Not Acceptable Here."""
    one = world.call("Receiver 4")
    assert one.called.code == 488
    (line,) = one.compared.lines
    assert "codecs" in line.to_do


def test_a_muted_unit_rings_for_the_caller_and_nobody_takes_it(world: World) -> None:
    one = world.call("Receiver 1", manner=RINGS_ONLY)
    assert one.called.rang
    assert (one.called.taken, one.called.code) == (False, None)
    assert aspects_of(world.book, "Receiver 1")[Aspect.CALLED] == NOT_TAKEN
    (note,) = call_notes(one)
    assert "muted" in note


def test_a_number_entered_for_another_is_not_answered(world: World) -> None:
    assert world.call("Receiver 3").called.code == 404


def test_a_call_says_neither_found_nor_permitted_and_stands_in_the_trail(world: World) -> None:
    one = world.call("Receiver 2 bedroom")  # a secondary is rung as which it registers: 02-1
    assert one.called.taken
    assert one.compared.lines == ()
    assert not is_permitted(world.book)
    with Book.open(world.book, read_only=True) as opened:
        noted = [one for one in opened.trail() if "test call" in one.about and "bedroom" in one.about]
    assert [one.act for one in noted] == [Act.REHEARSED]


# what is refused, and who is not there


def test_nobody_is_there_where_nothing_is_rehearsed(book: Path, tmp_path: Path) -> None:
    alone = tmp_path / "site.book"
    alone.write_bytes(book.read_bytes())
    one = call_rehearsed(
        alone, MEANS, name="Receiver 1", ports=replace(PORTS, sip=PORTS.sip + 60), manner=CallManner(patience_s=0.5)
    )
    assert one.called.outcome is Outcome.SILENT
    assert aspects_of(alone, "Receiver 1")[Aspect.CALLED] == NONE


@pytest.mark.parametrize(
    ("name", "as_unit", "passphrase", "said"),
    [
        ("Gate unit", None, None, "Gate unit is a call unit"),
        ("Nobody", None, None, "nobody was called|nobody was asked"),
        ("Receiver 1", "Gate unit", PASSPHRASE, "registers with nobody"),
        ("Receiver 1", "Porch unit", "another word of four", "passphrase"),
    ],
)
def test_what_cannot_be_called_is_refused(
    book: Path, name: str, as_unit: str | None, passphrase: str | None, said: str
) -> None:
    with pytest.raises(Refused, match=said):
        call_rehearsed(book, MEANS, name=name, ports=PORTS, manner=SHORT, as_unit=as_unit, passphrase=passphrase)


def test_a_wrong_passphrase_asks_no_registrar(book: Path) -> None:
    with pytest.raises(Refused, match="passphrase"):
        asked(book, "another word of four")
