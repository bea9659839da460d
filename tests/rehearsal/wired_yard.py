"""The small invented yard with its plant: switches, cables, supplies with batteries, locks, cameras, firmware.

Switch A at the gate feeds the gate and the porch unit, in ports 1 and 2; switch B feeds receivers 1, 2, 2 bedroom, 3
and 4, and the desk, in ports 1 to 6. One link of 1000 Mb/s lies between them. Switch B hangs on a supply with a
battery, switch A on the mains. The lock supply, 12 V with a battery, feeds the porch door and the store, which open by
current, and the gate leaf, a magnet. Data sheets are invented.
"""

from dataclasses import replace

from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.network import CableRun, Switch
from doorwright.model.power import Supply
from doorwright.model.profile import FirmwareLine, Profile, ProfileKind
from doorwright.model.unit import Unit, UnitKind
from tests.rehearsal.yard import YARD

FIRMWARE = (
    FirmwareLine(version="2.0", keeps_settings=True, pairing_generation=1),
    FirmwareLine(version="3.0", keeps_settings=False, pairing_generation=2),
)
_FACTS = {
    "poe_class": 3, "poe_draw_w": 9.5, "poe_by_lldp": True, "port_mbps": 100.0, "audio": ("PCMU", "PCMA"),
    "video": ("H264",), "restart_s": 60.0, "serial_pattern": "[A-Z][0-9]{8}", "firmware": FIRMWARE,
    "firmware_baseline": "3.0",
}  # fmt: skip
_OWN = {"gate": {"video_kbps": 2000.0}, "porch": {"video_kbps": 2000.0}, "home": {}, "desk": {}}

PROFILES = (
    *(replace(profile, **{**_FACTS, **_OWN[profile.key]}) for profile in YARD.profiles),  # type: ignore[arg-type]
    Profile(
        key="switch", title="Switch", kind=ProfileKind.SWITCH, ports_count=10, uplinks_count=2, poe_budget_w=120.0,
        poe_port_w=30.0, poe_by_lldp=True, port_mbps=1000.0, uplink_mbps=1000.0, own_draw_w=10.0, dc_minimum_v=10.0,
    ),
    Profile(
        key="supply", title="Supply", kind=ProfileKind.SUPPLY, output_v=12.0, output_a=10.0, battery_end_v=11.4,
        peukert_exponent=1.15,
    ),
)  # fmt: skip


def run(number: int, near: str, far: str, port: int | None, **values: object) -> CableRun:
    """Return a run of a cable of category 6, 40 m, at 20 °C."""
    fields = {
        "id": f"run-{number}", "name": f"C{number:02}", "near": near, "far": far, "near_port": port, "cable": "cat6",
        "length_m": 40.0, "temperature_c": 20.0,
    }  # fmt: skip
    return CableRun(**{**fields, **values})  # type: ignore[arg-type]


_AT_B = ("uru-1", "uru-2", "uru-2b", "uru-3", "uru-4", "smu")
_POWER = {"cable": "2x1.5", "length_m": 10.0}
RUNS = (
    run(1, "switch-a", "vcu-gate", 1),
    run(2, "switch-a", "vcu-porch", 2),
    *(run(2 + port, "switch-b", unit, port) for port, unit in enumerate(_AT_B, start=1)),
    run(9, "switch-a", "switch-b", 9, far_port=9),
    run(10, "supply-locks", "door-porch", None, **_POWER),
    run(11, "supply-locks", "door-store", None, **_POWER),
    run(12, "supply-locks", "door-gate", None, **_POWER),
    run(13, "supply-b", "switch-b", None, **{**_POWER, "length_m": 2.0}),
)
_PULLED = {
    "lock": LockKind.STRIKE, "fail_mode": FailMode.SECURE, "release_s": 5.0, "lock_rated_v": 12.0,
    "lock_operate_a": 0.5, "lock_minimum_v": 10.8,
}  # fmt: skip
_MAGNET = {**_PULLED, "lock": LockKind.MAGNET, "fail_mode": FailMode.SAFE}
WIRED_YARD = replace(
    YARD,
    profiles=PROFILES,
    switches=(
        Switch(id="switch-a", name="Switch A", profile="switch"),
        Switch(id="switch-b", name="Switch B", profile="switch"),
    ),
    supplies=(
        Supply(id="supply-locks", name="Lock supply", profile="supply", battery_ah=7.0, battery_rate_h=20.0),
        Supply(id="supply-b", name="Supply B", profile="supply", battery_ah=100.0, battery_rate_h=20.0),
    ),
    runs=RUNS,
).with_tables(
    {
        Door: tuple(
            replace(door, **(_MAGNET if door.id == "door-gate" else _PULLED))  # type: ignore[arg-type]
            for door in YARD.doors
        ),
        Unit: tuple(
            replace(unit, serial=f"A{number:08}", firmware="3.0") for number, unit in enumerate(YARD.units, start=1)
        ),
    }
)

RECEIVERS_COUNT = sum(unit.kind is UnitKind.URU for unit in WIRED_YARD.units)
