"""An invented switch told by Debian's snmpd, asked by us in versions 2c and 3: what is read, judged, kept and not told.

Needs Debian's package ``snmpd``. It listens on this machine's own loopback alone, at any free port.
"""

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from doorwright.app.means import Means
from doorwright.app.verify_switches import VaultKeys, VerifiedSwitches, verify_switches
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Stage, what_counts
from doorwright.model.aspect import SITE_SUBJECT, Aspect, PoeStatus, PoeSupply, stranger
from doorwright.probe.ask import Manner
from doorwright.probe.reach import Outcome
from doorwright.probe.snmp import Community, Digest, Key, User
from doorwright.probe.switch import read_switch
from doorwright.store.book import Book
from tests.interop import invented_switch as switch
from tests.interop.switch_agent import (
    AUTH,
    COMMUNITY,
    PASSPHRASE,
    PRIVACY,
    SITE,
    USER,
    VAULTED,
    Agent,
    running_agent,
    told,
    write_book,
)

MEANS = Means(who="A. Fitter")
MANNER = Manner(asks_per_s=1000, patience_s=0.5)


@pytest.fixture(scope="module")
def agent(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Agent]:
    with running_agent(tmp_path_factory.mktemp("agent")) as one:
        yield one


@pytest.mark.parametrize(
    "key",
    [
        Community(COMMUNITY),
        User(name=USER, auth_secret=AUTH, privacy_secret=PRIVACY),
        User(name="older", auth_secret=AUTH, privacy_secret=PRIVACY, digest=Digest.SHA1),
        User(name="vaulted", auth_secret=VAULTED, privacy_secret=VAULTED, digest=Digest.SHA512),
    ],
    ids=["version 2c", "version 3 by SHA-256", "version 3 by SHA-1", "version 3 by SHA-512"],
)
def test_every_version_reads_the_same(agent: Agent, key: Key) -> None:
    answer = told(agent.port, key)
    assert answer.outcome is Outcome.ANSWERED
    seen = read_switch(answer.values)
    assert set(seen.ports) == set(range(1, 9))  # neither the loopback nor the VLAN is a port
    assert seen.unplaced == ()
    # POWER-ETHERNET-MIB: pethMainPsePower 120 W, on(1), pethMainPseConsumptionPower 61 W
    assert (seen.supply, seen.budget_w, seen.given_w) == (PoeSupply.ON, 120, 61)
    main, slow, dark, broken, uplink = (seen.ports[number] for number in (1, 2, 5, 6, 8))
    # pethPsePortDetectionStatus deliveringPower(3), pethPsePortPowerClassifications class4(5) and class2(3)
    assert (main.name, main.is_up, main.speed_mbps, main.poe, main.poe_class) == (
        "port 1", True, 1000, PoeStatus.DELIVERING, 4,
    )  # fmt: skip
    assert main.neighbours[0].macs == (switch.VCU_MAC,)
    assert main.neighbours[0].name == "VCU Main"
    # ifHCInUcastPkts 5 000 000 000 (no Counter32 holds it) and ifOutUcastPkts 1 000 000
    assert (main.errors_count, main.frames_count) == (0, 5_001_000_000)
    # errors 120 + 3, frames 60 000 + 39 880 and the errors
    assert (slow.speed_mbps, slow.errors_count, slow.frames_count) == (100, 123, 100_003)
    assert (dark.is_up, dark.speed_mbps, dark.poe, dark.poe_class) == (False, None, PoeStatus.SEARCHING, None)
    assert (broken.is_up, broken.poe) == (False, PoeStatus.FAULT)
    assert uplink.poe is PoeStatus.DISABLED  # pethPsePortAdminEnable false(2), whatever the status says
    assert uplink.macs == (switch.U6_MAC, switch.S2_MAC)


@pytest.mark.parametrize(
    ("key", "outcome"),
    [
        (Community("public"), Outcome.SILENT),  # RFC 3584 §5.2.1: an agent says nothing to a wrong community
        (User(name="nobody", auth_secret=AUTH, privacy_secret=PRIVACY), Outcome.REFUSED),  # usmStatsUnknownUserNames
        (User(name=USER, auth_secret="g" * 12, privacy_secret=PRIVACY), Outcome.REFUSED),  # usmStatsWrongDigests
    ],
    ids=["community", "user", "secret"],
)
def test_whom_the_switch_does_not_know_is_told_nothing(agent: Agent, key: Key, outcome: Outcome) -> None:
    answer = told(agent.port, key)
    assert (answer.outcome, dict(answer.values)) == (outcome, {})


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "alder.book"
    write_book(path)
    return path


def verified(book: Path, port: int, keys: Key | VaultKeys, **given: object) -> VerifiedSwitches:
    return verify_switches(book, MEANS, manner=MANNER, keys=keys, port=port, permitted=True, **given)  # type: ignore[arg-type]


def test_what_the_switch_tells_stands_beside_the_plan(agent: Agent, book: Path) -> None:
    said = verified(book, agent.port, User(name=USER, auth_secret=AUTH, privacy_secret=PRIVACY))
    assert said.named(Outcome.ANSWERED) == ("S1",)
    assert said.named(Outcome.SILENT) == ("S2",)
    assert [(one.name, one.reason) for one in said.left_out] == [("S3", "it has no address in the plan")]
    found = {(one.part.label, one.aspect): one for one, _ in said.compared.differences}
    assert {where: one.found for where, one in found.items()} == {
        ("U1", Aspect.LINK): "100",  # one bad pair
        ("U1", Aspect.ERRORS): "123 of 100003",
        ("U2", Aspect.PORT): "S1 port 4",  # these two were exchanged
        ("U3", Aspect.PORT): "S1 port 3",
        ("U4", Aspect.LINK): "down",
        ("U4", Aspect.POE_STATUS): "searching",
        ("U5", Aspect.LINK): "down",
        ("U5", Aspect.POE_STATUS): "fault",
        ("U6", Aspect.POE_CLASS): "3",  # another type hangs at its port
        ("S1", Aspect.POE_BUDGET): "120",  # planned 150 W
        ("S1", Aspect.POE_GIVEN): "61",  # planned at most 12 W and six times 5 W, and what cables lose
        ("S2", Aspect.SNMP): "none",
    }
    assert "move its cable to S1 port 3" in found["U2", Aspect.PORT].to_do
    assert "test cable D2" in found["U1", Aspect.LINK].to_do
    assert "test cable D2" in found["U1", Aspect.ERRORS].to_do
    assert "test cable D5 pair by pair" in found["U4", Aspect.POE_STATUS].to_do
    assert "short" in found["U5", Aspect.POE_STATUS].to_do
    assert "S1, port 7" in found["U6", Aspect.POE_CLASS].to_do
    with Book.open(book, read_only=True) as opened:
        seen = what_counts(opened.observations(), Stage.FOUND)
    # the MAC address that nobody planned hangs at the planned port of U6; U6 itself is somewhere behind the uplink
    assert {aspect: one.value for aspect, one in seen[SITE_SUBJECT].items()} == {
        stranger(Aspect.MAC, switch.STRANGER_MAC): "S1 port 7"
    }
    assert seen[SITE.units[0].subject][Aspect.PORT].value == "S1 port 1"
    assert Aspect.PORT not in seen[SITE.units[6].subject]


def test_the_vault_opens_each_switch_by_its_own_secret(agent: Agent, book: Path) -> None:
    by_community = verified(book, agent.port, VaultKeys(passphrase=PASSPHRASE))
    by_user = verified(book, agent.port, VaultKeys(passphrase=PASSPHRASE, user="vaulted", digest=Digest.SHA512))
    for said in (by_community, by_user):
        assert said.named(Outcome.ANSWERED) == ("S1",)
        assert sorted((one.name, one.reason) for one in said.left_out) == [
            ("S2", "the vault holds no device secret for it"),
            ("S3", "it has no address in the plan"),
        ]
    with pytest.raises(Refused, match="passphrase does not open"):
        verified(book, agent.port, VaultKeys(passphrase="w" * 15))


def test_a_secret_too_short_for_version_3_is_refused_before_anybody_is_asked(book: Path) -> None:
    with pytest.raises(Refused, match="fewer than 8 characters"):  # RFC 3414 §11.2
        verified(book, 1, User(name=USER, auth_secret="7" * 7, privacy_secret=PRIVACY))


def test_only_what_was_chosen_is_asked_and_told(agent: Agent, book: Path) -> None:
    said = verified(book, agent.port, Community(COMMUNITY), only=["S1"])
    assert {one.part.label for one, _ in said.compared.differences} == {"S1"}
    assert verified(book, agent.port, Community(COMMUNITY), only=["U1"]).heard == ()


def test_no_secret_is_written_or_shown_anywhere(agent: Agent, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DOORWRIGHT_SNMP_AUTH_SECRET", AUTH)
    monkeypatch.setenv("DOORWRIGHT_SNMP_PRIVACY_SECRET", PRIVACY)
    monkeypatch.setenv("DOORWRIGHT_SNMP_COMMUNITY", COMMUNITY)
    for how in (["--snmp", "3", "--snmp-user", USER], ["--snmp", "2c"]):
        command = [sys.executable, "-m", "doorwright", "verify", str(book), "--permitted", "--only", "S1", "--no-ping"]
        command += ["--patience", "0.5", "--http-port", "0", "--https-port", "0", "--discovery-port", "0", *how]
        command += ["--snmp-port", str(agent.port), "--again"]
        said = subprocess.run([*command, "--json"], capture_output=True, text=True, check=False)
        assert said.returncode == 1, said.stderr
        switches = json.loads(said.stdout)["switches"]
        assert [(one["part"]["label"], one["snmp"], one["poe_given_w"]) for one in switches["asked"]] == [
            ("S1", "yes", 61)
        ]
        plain = subprocess.run(command, capture_output=True, text=True, check=False)
        assert "61 of 120 W" in plain.stdout
        for text in (said.stdout, said.stderr, plain.stdout, plain.stderr, book.read_bytes().decode("latin-1")):
            assert not [secret for secret in (AUTH, PRIVACY, COMMUNITY) if secret in text]
    keys = (Community(COMMUNITY), User(name=USER, auth_secret=AUTH, privacy_secret=PRIVACY), VaultKeys(passphrase=AUTH))
    assert not [key for key in keys for secret in (AUTH, PRIVACY, COMMUNITY) if secret in repr(key)]
    with Book.open(book, read_only=True) as opened:
        about = [one.about for one in opened.trail() if "SNMP" in one.about]
    assert about[0].startswith("1 switch over SNMP version 3")
