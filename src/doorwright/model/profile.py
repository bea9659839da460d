"""The data sheet of a unit type. Limits of a family of units live here, never in code."""

from dataclasses import dataclass
from enum import StrEnum
from string import ascii_letters, digits, hexdigits, punctuation
from types import MappingProxyType
from typing import Final

ALPHABETS: Final = MappingProxyType(
    {
        "digits": digits,
        "hexadecimal": hexdigits[:16],
        "letters and digits": ascii_letters + digits,
        "letters, digits and signs": ascii_letters + digits + punctuation,
    }
)
"""The characters that each alphabet of a secret policy holds: 10, 16, 62 and 94 of them."""


class ProfileKind(StrEnum):
    """What the profile describes."""

    VCU = "VCU"
    URU = "URU"
    SMU = "SMU"
    KEY_MODULE = "key module"
    LOCK_MODULE = "lock module"
    SWITCH = "switch"
    SUPPLY = "supply"


@dataclass(frozen=True, slots=True, kw_only=True)
class SecretPolicy:
    """How a unit type wants a secret: how long, and from which of the ``ALPHABETS``."""

    length_min_count: int
    length_max_count: int
    alphabet: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmwareLine:
    """One firmware version: what the step to it does, how long it takes, and the pairing generation it speaks.

    ``tool_note`` says what the maker's own program must be for it. ``may_go_back`` says whether a unit that has it
    takes an older version again, None where the maker does not say. Lines stand in order, the oldest first.
    """

    version: str
    keeps_settings: bool
    pairing_generation: int
    needs_restart: bool = True
    step_s: float = 600.0
    tool_note: str = ""
    may_go_back: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """One unit type. None or 0 where a field has no meaning for the kind.

    ``poe_by_lldp``: a unit asks for its draw by LLDP; a switch sets aside what was asked, else what the class may take.
    ``poe_port_w`` is the most that one port gives. ``dc_draw_w`` is taken at ``dc_minimum_v`` or more where the part is
    fed by a supply, by a switch with all that it feeds; ``own_draw_w`` is what the switch takes for itself alone, to
    which the power of its ports over ``poe_efficiency_ratio`` is added. ``battery_end_v`` is the output at the end of
    standby. ``video_kbps`` is the bit rate that a unit is set to send, ``audio_delay_ms`` its own delay, sending or
    receiving; ``calls_max_count`` is how many calls it holds, its own and those of what registers with it.
    """

    key: str
    title: str
    kind: ProfileKind
    # power
    poe_class: int | None = None
    poe_draw_w: float | None = None
    poe_budget_w: float | None = None
    poe_port_w: float | None = None
    poe_by_lldp: bool = False
    poe_efficiency_ratio: float | None = None
    own_draw_w: float | None = None
    dc_draw_w: float | None = None
    dc_minimum_v: float | None = None
    output_v: float | None = None
    output_a: float | None = None
    output_fuse_a: float | None = None
    battery_end_v: float | None = None
    peukert_exponent: float | None = None
    # ports of a switch; the uplinks are among them, the last ones
    ports_count: int = 0
    uplinks_count: int = 0
    port_mbps: float | None = None
    uplink_mbps: float | None = None
    uplinks_optical: bool = False
    # calling from a VCU
    keys_count: int = 0
    modules_max_count: int = 0
    module: str | None = None
    keypad: bool = False
    keypad_digits_max_count: int = 0
    keypad_dials_at_once: bool = False
    directory_max_count: int = 0
    legend_width_mm: float | None = None
    legend_height_mm: float | None = None
    # freeing doors
    outputs_count: int = 0
    output_contact_a: float | None = None
    output_contact_v: float | None = None
    output_contact_inrush_a: float | None = None
    # media (RFC 3551 and RFC 6184 names)
    audio: tuple[str, ...] = ()
    video: tuple[str, ...] = ()
    video_kbps: float | None = None
    conceals_loss: bool = False
    audio_delay_ms: float | None = None
    jitter_buffer_ms: float | None = None
    calls_max_count: int | None = None
    # pairing
    registrations_max_count: int = 0
    secondaries_max_count: int = 0
    settle_s: float = 0.0
    restart_s: float = 0.0
    # identity and upkeep
    serial_pattern: str | None = None
    device_secret: SecretPolicy | None = None
    sip_secret: SecretPolicy | None = None
    firmware: tuple[FirmwareLine, ...] = ()
    firmware_baseline: str | None = None
