"""`verify --registrations` and `verify --call`: permission, the vault, JSON; no secret comes out. Loopback alone."""

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.app.means import Means
from doorwright.app.vault import opened_secrets, set_passphrase
from doorwright.kernel.observation import Stage, what_counts
from doorwright.model.aspect import Aspect
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.model.unit import SecretMark, SecretUse, Unit, UnitKind
from doorwright.sip.message import Request, response_to
from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright
from tests.unit.probe.answering import Answering, Line
from tests.unit.probe.loopback import Building, need_many_addresses, shared_ports

PASSPHRASE = "long enough for a test of the vault"  # noqa: S105  (of this test alone)
SECRET = "hidden-where-nobody-looks"  # noqa: S105
SIP, SERVER_PORT = shared_ports(2)
UNIT, SERVER = "127.0.0.21", "127.0.0.22"
SITE = Site(
    name="Alder Court",
    dwellings=(Dwelling(id="d", core="c", level="l", door_label="1", call_number="101"),),
    units=(
        Unit(id="u1", name="URU 1", kind=UnitKind.URU, profile="p", address=UNIT, dwelling="d", registrar="x"),
        Unit(
            id="v1", name="VCU 1", kind=UnitKind.VCU, profile="p", address="127.0.0.23", registrar="x",
            call_number="7001",
        ),
    ),
    servers=(SipServer(id="x", name="House server", address=SERVER, port=SERVER_PORT, realm="doors.example"),),
    secrets=(SecretMark(id="m", owner="u1", use=SecretUse.SIP, line=4),),
)  # fmt: skip


@pytest.fixture
def alder(tmp_path: Path) -> Path:
    need_many_addresses()
    alder = tmp_path / "alder.book"
    means = Means(who="Ada")
    Book.create(alder, SITE, by="Ada", at=datetime(2026, 1, 1, tzinfo=UTC), message="made").close()
    set_passphrase(alder, PASSPHRASE, means)
    with Book.open(alder) as book:
        sealed = book.vault()
        assert sealed is not None
        entry = sealed.unlock(PASSPHRASE).seal("m", SECRET, random_bytes=means.random_bytes)
        book.save(SITE, parent=1, by="Ada", at=datetime(2026, 1, 2, tzinfo=UTC), message="sealed", sealed={"m": entry})
        assert opened_secrets(book, PASSPHRASE) == {"m": SECRET}
    return alder


@pytest.fixture
def passphrase(tmp_path: Path) -> Path:
    path = tmp_path / "passphrase.txt"
    path.write_text(f"{PASSPHRASE}\n", encoding="utf-8")
    return path


ALONE = ("--sip-port", SIP, "--http-port", 0, "--https-port", 0, "--rtsp-port", 0, "--no-ping", "--rate", 500)
BRIEF = ("--talk-for", 1, "--ring-for", 3, "--permitted")


def refusing(count: int, request: Request) -> Sequence[bytes]:
    if request.method != "REGISTER":
        return (response_to(request, 200, to_tag="x").to_bytes(),)
    if request.headers.get("Authorization") is None:
        challenge = 'Digest realm="doors.example", nonce="abc", algorithm=SHA-256, qop="auth"'
        return (response_to(request, 401, to_tag="x", headers=[("WWW-Authenticate", challenge)]).to_bytes(),)
    return (response_to(request, 403, to_tag="x").to_bytes(),)


def seen(book: Path) -> dict[str, str]:
    with Book.open(book, read_only=True) as opened:
        found = what_counts(opened.observations(), Stage.FOUND)
    return {aspect: one.value for part, there in found.items() if part.id == "u1" for aspect, one in there.items()}


def test_registrations_need_the_vault_and_tell_no_secret(doorwright: Doorwright, alder: Path, passphrase: Path) -> None:
    with Building() as building:
        building.udp(SERVER, SERVER_PORT, refusing)
        ran = doorwright(
            "verify", alder, "--registrations", "--passphrase-file", passphrase, "--permitted", *ALONE,
            "--only", "URU 1", "--patience", 0.2,
        )  # fmt: skip
        told = doorwright(
            "verify", alder, "--registrations", "--passphrase-file", passphrase, "--json", *ALONE, "--only", "URU 1",
            "--patience", 0.2,
        )  # fmt: skip
    assert ran.code == 1
    assert f"URU 1  {UNIT}  House server  refused (403)  not known  -" in ran.out
    assert "Asked about 1 registration: 0 registered." in ran.out
    assert "SIP user 101 and the SIP secret of sealed sheet, line 4" in ran.out
    (one,) = told.json["registrations"]["asked"]
    assert (one["user"], one["answer"], one["secret"], one["registered"], one["bindings"]) == (
        "101", "403", "refused", None, None,
    )  # fmt: skip
    for text in (ran.out, ran.err, told.out, told.err):
        assert SECRET not in text
        assert PASSPHRASE not in text


def test_a_wrong_passphrase_asks_nobody(doorwright: Doorwright, alder: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.txt"
    wrong.write_text("a passphrase of somebody else\n", encoding="utf-8")
    with Building() as building:
        asked = building.udp(SERVER, SERVER_PORT, refusing)
        ran = doorwright(
            "verify", alder, "--registrations", "--passphrase-file", wrong, "--permitted", *ALONE, "--only", "URU 1",
            "--patience", 0.2,
        )  # fmt: skip
    assert ran.code == 2
    assert [one for one in asked.requests if one.method == "REGISTER"] == []


def test_a_test_call_rings_only_where_it_was_said_that_it_may(doorwright: Doorwright, alder: Path) -> None:
    unit = Answering()
    with Building() as building:
        building.answers(unit, UNIT, SIP)
        ran = doorwright("verify", alder, "--call", "URU 1", *BRIEF, *ALONE)
    assert ran.code == 2
    assert "rings in a home" in ran.err
    assert "--may-ring" in ran.err
    assert unit.events == []


def test_a_test_call_is_measured_rated_and_written_down(doorwright: Doorwright, alder: Path) -> None:
    unit = Answering(line=Line(lost_back={4, 5}))
    with Building() as building:
        building.answers(unit, UNIT, SIP)
        told = doorwright("verify", alder, "--call", "uru 1", "--may-ring", "--json", *BRIEF, *ALONE).json
        shown = doorwright("verify", alder, "--call", "URU 1", "--may-ring", *BRIEF, *ALONE)
    assert (told["taken"], told["rang"], told["code"], told["codec"]) == (True, True, 200, "PCMU")
    assert told["heard"]["lost"] == 2
    assert told["reported"]["lost"] == 0
    assert told["rating_to_us"]["r"] < told["rating_to_unit"]["r"]  # what the line lost is in it
    assert any("jitter buffer of 40 ms" in each for each in told["rating_to_us"]["assumed"])
    found = seen(alder)
    assert found[Aspect.CALLED] == "answered"
    assert float(found[Aspect.SPEECH]) < 93.2  # ITU-T G.107: R at all defaults, without loss and delay
    assert float(found[Aspect.LOSS]) > 0
    assert Aspect.ROUND_TRIP in found
    assert "Test call to URU 1: Taken, and hung up." in shown.out
    assert "from the unit" in shown.out
    assert "to the unit, as it reports" in shown.out


def test_a_call_that_is_refused_says_what_to_do(doorwright: Doorwright, alder: Path) -> None:
    with Building() as building:
        building.answers(Answering(code=488), UNIT, SIP)
        ran = doorwright("verify", alder, "--call", "URU 1", "--may-ring", *BRIEF, *ALONE)
    assert ran.code == 1
    assert "It rang, then 488: refused." in ran.out
    assert "compare the codecs of URU 1" in ran.out


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--may-ring",), "only with --call"),
        (("--call", "URU 1", "--registrations"), "a test call asks nothing else"),
        (("--call", "URU 77", "--may-ring", "--permitted"), "URU 77"),
        (("--call", "House server", "--may-ring", "--permitted"), "it is no unit"),
        (("--call", "URU 1", "--as", "VCU 1", "--may-ring", "--permitted"), "VCU 1 has no user or no SIP secret"),
    ],
)
def test_what_does_not_fit_is_refused_before_anything_is_sent(
    doorwright: Doorwright, alder: Path, passphrase: Path, options: tuple[str, ...], words: str
) -> None:
    ran = doorwright("verify", alder, *options, "--passphrase-file", passphrase, *ALONE)
    assert ran.code == 2
    assert words in ran.err
    assert "Traceback" not in ran.err
