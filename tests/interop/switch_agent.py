"""An invented switch told by Debian's snmpd, and the book of a small site that it serves: for what asks over SNMP.

Needs Debian's package ``snmpd``. It listens on this machine's own loopback alone, at any free port.
"""

import asyncio
import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.model.network import CableRun, Subnet, Switch
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.site import Site
from doorwright.model.unit import SecretMark, SecretUse, Unit, UnitKind
from doorwright.probe.reach import Outcome
from doorwright.probe.snmp import Community, Key, Told, ask_switch
from doorwright.store import vault
from doorwright.store.book import Book
from tests.interop import invented_switch as switch

COMMUNITY = "alder-court-reads"
USER, AUTH, PRIVACY = "reader", "reads-the-ports-only", "and-in-the-dark"
VAULTED = "Vm7kQ2xWcR9t"  # the device secret of S1 in the vault
PASSPHRASE = "correct horse battery"  # noqa: S105
REMEMBERED = datetime(2031, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Agent:
    port: int
    log: Path


@contextmanager
def running_agent(folder: Path) -> Iterator[Agent]:
    """The switch, asked at a port of 127.0.0.1 while this lasts; ``folder`` keeps what it needs."""
    program = shutil.which("snmpd", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if program is None:
        if "CI" in os.environ:
            pytest.fail("CI must have snmpd: install Debian's package snmpd")
        pytest.skip("snmpd is not installed (Debian: apt-get install snmpd)")
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

    asking = ask_switch("127.0.0.1", key, patience_s=0.5, turn=now, port=port)
    with ThreadPoolExecutor(1) as beside:  # a browser's test runs a loop in its own thread
        return beside.submit(asyncio.run, asking).result()


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


def write_book(path: Path) -> None:
    """Write the book of the site, with a vault that opens by ``PASSPHRASE`` and holds the device secret of S1."""
    with Book.create(path, SITE, by="Ada", at=REMEMBERED, message="made") as made:
        quick = vault.Parameters(passes_count=1, lanes_count=1, memory_kib=8)
        sealed, opened = vault.create(PASSPHRASE, random_bytes=os.urandom, parameters=quick)
        made.set_vault_header(sealed)
        made.save(
            SITE, parent=1, by="Ada", at=REMEMBERED, message="secrets",
            sealed={"m1": opened.seal("m1", VAULTED, random_bytes=os.urandom)},
        )  # fmt: skip
