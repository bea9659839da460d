"""An invented switch: what an agent of it would tell, and the program by which Debian's snmpd tells it.

The columns and their values are those of the MIB texts: IF-MIB (RFC 2863), BRIDGE-MIB (RFC 4188), Q-BRIDGE-MIB
(RFC 4363), POWER-ETHERNET-MIB (RFC 3621), LLDP-MIB (IEEE 802.1AB-2005, from memory), written out here by hand.

Eight ports, called "port 1" to "port 8"; as interfaces they have the numbers 101 to 108.
"""

import sys
from collections.abc import Mapping
from pathlib import Path

IF_ENTRY = ".1.3.6.1.2.1.2.2.1"
IF_X_ENTRY = ".1.3.6.1.2.1.31.1.1.1"
DOT1D = ".1.3.6.1.2.1.17"
PETH = ".1.3.6.1.2.1.105.1"
LLDP = ".1.0.8802.1.1.2.1"
SERVED = (".1.3.6.1.2.1.2.2", ".1.3.6.1.2.1.31.1.1", DOT1D, ".1.3.6.1.2.1.105", ".1.0.8802.1.1.2")

# the parts around it
VCU_MAC = "00-00-5E-00-53-01"
U1_MAC, U2_MAC, U3_MAC, U4_MAC, U5_MAC, U6_MAC = (f"00-00-5E-00-53-1{number}" for number in range(1, 7))
STRANGER_MAC = "00-00-5E-00-53-99"
S2_MAC = "00-00-5E-00-53-E2"

OPER_UP, OPER_DOWN = 1, 2
LINKS = {1: (OPER_UP, 1000), 2: (OPER_UP, 100), 3: (OPER_UP, 1000), 4: (OPER_UP, 1000), 5: (OPER_DOWN, 0),
         6: (OPER_DOWN, 0), 7: (OPER_UP, 1000), 8: (OPER_UP, 1000)}  # fmt: skip
"""ifOperStatus and ifHighSpeed of each port."""
FRAMES = dict.fromkeys(LINKS, (5000000000, 0, 1000000, 0)) | {2: (60_000, 120, 39_880, 3)}
"""Frames and errors that came in, frames and errors that went out."""
LEARNED = {1: (VCU_MAC,), 2: (U1_MAC,), 3: (U3_MAC,), 4: (U2_MAC,), 7: (STRANGER_MAC,), 8: (U6_MAC, S2_MAC)}
TRUE, FALSE = 1, 2
SEARCHING, DELIVERING, FAULT = 2, 3, 4
POE = {1: (TRUE, DELIVERING, 5), 2: (TRUE, DELIVERING, 3), 3: (TRUE, DELIVERING, 3), 4: (TRUE, DELIVERING, 3),
       5: (TRUE, SEARCHING, 1), 6: (TRUE, FAULT, 1), 7: (TRUE, DELIVERING, 4), 8: (FALSE, SEARCHING, 1)}  # fmt: skip
"""pethPsePortAdminEnable, DetectionStatus, PowerClassifications (class0 is 1)."""
SUPPLY = (120, 1, 61)
"""pethMainPsePower in watts, OperStatus (on is 1), ConsumptionPower in watts."""


def octets(mac: str) -> str:
    """A MAC address as the agent's program takes octets."""
    return " ".join(mac.split("-"))


def index(mac: str) -> str:
    """A MAC address as the index of a row."""
    return ".".join(str(int(octet, 16)) for octet in mac.split("-"))


def tables() -> dict[str, tuple[str, str]]:
    """All values by name: their kind and text."""
    told: dict[str, tuple[str, str]] = {
        f"{IF_ENTRY}.3.1": ("integer", "24"),  # a loopback and a VLAN's interface, which are no ports
        f"{IF_X_ENTRY}.1.1": ("string", "lo"),
        f"{IF_ENTRY}.3.200": ("integer", "53"),
        f"{IF_X_ENTRY}.1.200": ("string", "vlan 1"),
        f"{IF_ENTRY}.8.200": ("integer", "1"),
    }
    for port, (status, mbps) in LINKS.items():
        one = 100 + port
        frames_in, errors_in, frames_out, errors_out = FRAMES[port]
        told |= {
            f"{IF_ENTRY}.3.{one}": ("integer", "6"),
            f"{IF_ENTRY}.8.{one}": ("integer", str(status)),
            f"{IF_ENTRY}.11.{one}": ("counter", str(frames_in % 2**32)),
            f"{IF_ENTRY}.14.{one}": ("counter", str(errors_in)),
            f"{IF_ENTRY}.17.{one}": ("counter", str(frames_out)),
            f"{IF_ENTRY}.20.{one}": ("counter", str(errors_out)),
            f"{IF_X_ENTRY}.1.{one}": ("string", f"port {port}"),
            f"{IF_X_ENTRY}.7.{one}": ("counter64", str(frames_in)),
            f"{IF_X_ENTRY}.15.{one}": ("gauge", str(mbps)),
            f"{DOT1D}.1.4.1.2.{port}": ("integer", str(one)),
            f"{LLDP}.3.7.1.2.{port}": ("integer", "5"),  # interfaceName
            f"{LLDP}.3.7.1.3.{port}": ("string", f"port {port}"),
        }
    for port, (enabled, status, class_) in POE.items():
        told |= {
            f"{PETH}.1.1.3.1.{port}": ("integer", str(enabled)),
            f"{PETH}.1.1.6.1.{port}": ("integer", str(status)),
            f"{PETH}.1.1.10.1.{port}": ("integer", str(class_)),
        }
    for column, kind, value in zip((2, 3, 4), ("gauge", "integer", "gauge"), SUPPLY, strict=True):
        told[f"{PETH}.3.1.1.{column}.1"] = (kind, str(value))
    for port, macs in LEARNED.items():
        for mac in macs:
            told[f"{DOT1D}.7.1.2.2.1.2.1.{index(mac)}"] = ("integer", str(port))
    for port, number, mac, name in ((1, 1, VCU_MAC, "VCU Main"), (8, 2, S2_MAC, "S2")):
        row = f"0.{port}.{number}"
        told |= {
            f"{LLDP}.4.1.1.4.{row}": ("integer", "4"),  # macAddress
            f"{LLDP}.4.1.1.5.{row}": ("octet", octets(mac)),
            f"{LLDP}.4.1.1.6.{row}": ("integer", "7"),  # local
            f"{LLDP}.4.1.1.7.{row}": ("string", "1"),
            f"{LLDP}.4.1.1.9.{row}": ("string", name),
        }
    return told


def numbers(oid: str) -> tuple[int, ...]:
    """A name as numbers, which order it."""
    return tuple(int(part) for part in oid.strip(".").split("."))


def write_program(folder: Path, told: Mapping[str, tuple[str, str]]) -> Path:
    """Write the program that snmpd runs: it answers from a table on its standard input and output."""
    table = folder / "told.txt"
    table.write_text("".join(f"{oid}|{kind}|{value}\n" for oid, (kind, value) in told.items()), encoding="ascii")
    program = folder / "tell.sh"
    program.write_text(f"#!/bin/sh\nexec {sys.executable} {Path(__file__).resolve()} {table}\n", encoding="utf-8")
    program.chmod(0o700)
    return program


def tell(table: Path) -> None:
    """Answer what the agent asks for (net-snmp's pass_persist: PING, get, getnext; set is not known here)."""
    rows = [line.split("|") for line in table.read_text(encoding="ascii").splitlines()]
    told = {numbers(oid): (oid, kind, value) for oid, kind, value in rows}
    names = sorted(told)
    while line := sys.stdin.readline():
        asked = line.strip()
        if asked == "PING":
            print("PONG", flush=True)
            continue
        oid = numbers(sys.stdin.readline())
        found = oid if asked == "get" and oid in told else None
        if asked == "getnext":
            found = next((name for name in names if name > oid), None)
        print("\n".join(told[found]) if found else "NONE", flush=True)


if __name__ == "__main__":
    tell(Path(sys.argv[1]))
