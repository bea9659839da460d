"""An invented switch told by Debian's snmpd, asked by us in versions 2c and 3: what is read, judged, kept and not told.

Needs Debian's package ``snmpd``. It listens on this machine's own loopback alone, at any free port.
"""

import asyncio
import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.app.means import Means
from doorwright.app.verify_switches import VaultKeys, VerifiedSwitches, verify_switches
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Stage, what_counts
from doorwright.model.aspect import SITE_SUBJECT, Aspect, PoeStatus, PoeSupply, stranger
from doorwright.model.network import CableRun, Subnet, Switch
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.site import Site
from doorwright.model.unit import SecretMark, SecretUse, Unit, UnitKind
from doorwright.probe.ask import Manner
from doorwright.probe.reach import Outcome
from doorwright.probe.snmp import Community, Digest, Key, Told, User, ask_switch
from doorwright.probe.switch import read_switch
from doorwright.store import vault
from doorwright.store.book import Book
from tests.interop import invented_switch as switch

COMMUNITY = "alder-court-reads"
USER, AUTH, PRIVACY = "reader", "reads-the-ports-only", "and-in-the-dark"
VAULTED = "Vm7kQ2xWcR9t"  # the device secret of S1 in the vault
PASSPHRASE = "correct horse battery"  # noqa: S105
MEANS = Means(who="A. Fitter")
MANNER = Manner(asks_per_s=1000, patience_s=0.5)
REMEMBERED = datetime(2031, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Agent:
    port: int
    log: Path


@pytest.fixture(scope="module")
def agent(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Agent]:
    program = shutil.which("snmpd", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if program is None:
        if "CI" in os.environ:
            pytest.fail("CI must have snmpd: install Debian's package snmpd")
        pytest.skip("snmpd is not installed (Debian: apt-get install snmpd)")
    folder = tmp_path_factory.mktemp("agent")
    tell = switch.write_program(folder, switch.tables())
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as held:
        held.bind(("127.0.0.1", 0))
        port = held.getsockname()[1]
    conf = folder / "snmpd.conf"
    conf.write_text(
        f"agentaddress udp:127.0.0.1:{port}\n"
        f"rocommunity {COMMUNITY} 127.0.0.1\n"
        f"rocommunity {VAULTED} 127.0.0.1\n"
        f'createUser {USER} SHA-256 "{AUTH}" AES "{PRIVACY}"\nrouser {USER} priv\n'
        f'createUser older SHA "{AUTH}" AES "{PRIVACY}"\nrouser older priv\n'
        f'createUser vaulted SHA-512 "{VAULTED}" AES "{VAULTED}"\nrouser vaulted priv\n'
        + "".join(f"pass_persist {oid} {tell}\n" for oid in switch.SERVED),
        encoding="ascii",
    )
    log = folder / "snmpd.log"
    rest = ("-I", "-ifTable,-ifXTable", "-p", str(folder / "pid"))  # its own interfaces are not the switch's
    command = (program, "-f", "-Lf", str(log), "-C", "-c", str(conf), *rest)
    surroundings = {**os.environ, "SNMP_PERSISTENT_DIR": str(folder), "MIBS": ""}
    with subprocess.Popen(command, env=surroundings, stdin=subprocess.DEVNULL) as running:
        try:
            deadline_s = time.monotonic() + 30
            while told(port, Community(COMMUNITY)).outcome is not Outcome.ANSWERED:
                assert running.poll() is None, log.read_text(encoding="utf-8")
                assert time.monotonic() < deadline_s, "the agent does not answer"
            yield Agent(port, log)
        finally:
            running.kill()


def told(port: int, key: Key) -> Told:
    async def now() -> None:
        """Nobody waits here."""

    return asyncio.run(ask_switch("127.0.0.1", key, patience_s=0.5, turn=now, port=port))


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


def unit(ident: str, mac: str, last: int, kind: UnitKind = UnitKind.URU, profile: str = "p-uru") -> Unit:
    return Unit(id=ident, name=ident.upper(), kind=kind, profile=profile, mac=mac, address=f"127.0.1.{last}")


def run(far: str, port: int) -> CableRun:
    return CableRun(
        id=f"run-{far}", name=f"D{port}", near="s1", near_port=port, far=far, cable="cat6", length_m=20.0,
        temperature_c=30.0, far_port=8 if far == "s2" else None,
    )  # fmt: skip


SITE = Site(
    name="Alder Court",
    units=(
        unit("v1", switch.VCU_MAC, 1, UnitKind.VCU, "p-vcu"),
        *(unit(f"u{n}", mac, 10 + n) for n, mac in enumerate(
            (switch.U1_MAC, switch.U2_MAC, switch.U3_MAC, switch.U4_MAC, switch.U5_MAC, switch.U6_MAC), start=1)),
    ),
    switches=(
        Switch(id="s1", name="S1", profile="p-switch", address="127.0.0.1", mac="00-00-5E-00-53-E1"),
        Switch(id="s2", name="S2", profile="p-switch", address="127.0.0.2", mac=switch.S2_MAC),
        Switch(id="s3", name="S3", profile="p-switch"),
    ),
    runs=tuple(run(far, port) for port, far in enumerate(("v1", "u1", "u2", "u3", "u4", "u5", "u6", "s2"), start=1)),
    subnets=(Subnet(id="n", name="Units", cidr="127.0.0.0/8"),),
    secrets=(SecretMark(id="m1", owner="s1", use=SecretUse.DEVICE, line=1),),
    profiles=(
        Profile(key="p-vcu", title="Call unit", kind=ProfileKind.VCU, poe_class=4, poe_draw_w=12.0, port_mbps=1000),
        Profile(key="p-uru", title="Indoor unit", kind=ProfileKind.URU, poe_class=2, poe_draw_w=5.0, port_mbps=1000),
        Profile(
            key="p-switch", title="Switch", kind=ProfileKind.SWITCH, ports_count=8, uplinks_count=1, port_mbps=1000,
            poe_budget_w=150.0, poe_port_w=30.0,
        ),
    ),
)  # fmt: skip


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "alder.book"
    with Book.create(path, SITE, by="Ada", at=REMEMBERED, message="made") as made:
        quick = vault.Parameters(passes_count=1, lanes_count=1, memory_kib=8)
        sealed, opened = vault.create(PASSPHRASE, random_bytes=os.urandom, parameters=quick)
        made.set_vault_header(sealed)
        made.save(
            SITE, parent=1, by="Ada", at=REMEMBERED, message="secrets",
            sealed={"m1": opened.seal("m1", VAULTED, random_bytes=os.urandom)},
        )  # fmt: skip
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
