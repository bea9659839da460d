"""Profiles: the generic kinds that ship with Doorwright, then the data sheets in the user's folders.

A file holds one TOML table a profile, named by its key. A later folder replaces whole profiles of an earlier one.
"""

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from pydantic import ConfigDict, TypeAdapter, ValidationError
from pydantic_core import to_json

from doorwright import data
from doorwright.kernel.errors import Mistake, Refused
from doorwright.model.profile import ALPHABETS, Profile, ProfileKind

_SHIPPED: Final = "the profiles of Doorwright"
_POE_CLASSES: Final = range(9)  # IEEE 802.3-2022 clause 145: classes 0 to 8 (from memory)
_NOT_NEGATIVE: Final = (
    "poe_draw_w", "poe_budget_w", "output_v", "output_a", "ports_count", "uplinks_count", "keys_count",
    "modules_max_count", "keypad_digits_max_count", "directory_max_count", "outputs_count", "output_contact_a",
    "registrations_max_count", "secondaries_max_count", "settle_s", "restart_s", "dc_draw_w", "own_draw_w",
    "dc_minimum_v", "battery_end_v", "audio_delay_ms", "jitter_buffer_ms",
)  # fmt: skip
_POSITIVE: Final = (
    "legend_width_mm", "legend_height_mm", "poe_port_w", "output_fuse_a", "port_mbps", "uplink_mbps",
    "output_contact_v", "output_contact_inrush_a", "video_kbps", "calls_max_count", "poe_efficiency_ratio",
)  # fmt: skip
_PEUKERT_RANGE: Final = (1.0, 2.0)  # 1 is an ideal battery; lead ones stay below 1.6 (common practice)
_MODULES: Final = (ProfileKind.KEY_MODULE, ProfileKind.LOCK_MODULE)


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One profile as read: the file it stands in and its table."""

    file: str
    key: str
    row: Any

    def mistake(self, field: str, read: object, problem: str, remedy: str) -> Mistake:
        where = f"{self.file}, [{self.key}]" + (f" {field}" if field else "")
        return Mistake(where=where, read=str(read)[:80], problem=problem, remedy=remedy)


@cache
def _profile() -> TypeAdapter[tuple[Profile]]:
    # Dataclasses take the settings of what holds them: the tuple of one is there to hold them.
    return TypeAdapter(tuple[Profile], config=ConfigDict(extra="forbid", allow_inf_nan=False))


def load_profiles(folders: Iterable[Path] = ()) -> Mapping[str, Profile]:
    """Return every profile by key: those that ship, then those of each folder's ``*.toml``, later ones replacing.

    Raises:
        Refused: a folder is not there or a file has mistakes; all of them are listed, by file and field.
    """
    mistakes: list[Mistake] = []
    sheets = {key: _Sheet(_SHIPPED, key, row) for key, row in data.table("profiles").items()}
    for folder in folders:
        sheets.update(_folder(folder, mistakes))
    profiles: dict[str, Profile] = {}
    for sheet in sheets.values():
        profile = _read(sheet, mistakes)
        if profile is not None:
            profiles[sheet.key] = profile
            mistakes += _implausible(sheet, profile)
    for key, profile in profiles.items():
        mistakes += _wrong_module(sheets[key], profile, sheets, profiles)
    if mistakes:
        raise Refused(
            f"the profiles have {len(mistakes)} mistake{'s' if len(mistakes) > 1 else ''}",
            remedy="Correct the files named; none of them was taken in.",
            mistakes=tuple(mistakes),
        )
    return MappingProxyType(profiles)


def _folder(folder: Path, mistakes: list[Mistake]) -> dict[str, _Sheet]:
    """Return the sheets of one folder by key, its files in order of name."""
    if not folder.is_dir():
        mistakes.append(
            Mistake(where=str(folder), read="", problem="there is no such folder", remedy="Check the path, or make it.")
        )
        return {}
    sheets: dict[str, _Sheet] = {}
    for path in sorted(folder.glob("*.toml")):
        for key, row in _tables(path, mistakes).items():
            sheet = _Sheet(str(path), key, row)
            if key in sheets:
                problem = f"{sheets[key].file} in the same folder has a profile of this name too"
                mistakes.append(sheet.mistake("", "", problem, "Rename one of them, or take one away."))
            sheets[key] = sheet
    return sheets


def _tables(path: Path, mistakes: list[Mistake]) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        problem, remedy = f"it cannot be read: {error.strerror}", "Ask for the right to read it, or take it away."
    except UnicodeDecodeError as error:
        problem, remedy = f"byte {error.start + 1} is not UTF-8", "Save the file as UTF-8."
    except tomllib.TOMLDecodeError as error:
        problem, remedy = f"it is not TOML: {error}", "Correct the line named."
    mistakes.append(Mistake(where=str(path), read="", problem=problem, remedy=remedy))
    return {}


def _read(sheet: _Sheet, mistakes: list[Mistake]) -> Profile | None:
    if not isinstance(sheet.row, dict):
        mistakes.append(sheet.mistake("", sheet.row, "a value outside of any profile", f"Begin with [{sheet.key}]."))
        return None
    if "key" in sheet.row:
        problem = "unknown field: the name in brackets is the key"
        mistakes.append(sheet.mistake("key", sheet.row["key"], problem, "Take the line away."))
    # Strict JSON takes lists for tuples and texts for enumerations, and nothing else for something else.
    try:
        (profile,) = _profile().validate_json(to_json([sheet.row | {"key": sheet.key}]), strict=True)
    except ValidationError as error:
        for fault in error.errors(include_url=False):
            field = ".".join(str(step) for step in fault["loc"][1:])
            unknown = fault["type"] == "unexpected_keyword_argument"
            missing = fault["type"] == "missing"
            mistakes.append(
                sheet.mistake(
                    field,
                    "" if missing else fault["input"],
                    "unknown field" if unknown else fault["msg"],
                    "Check its spelling, or take it away." if unknown else "Correct the value.",
                )
            )
        return None
    return profile


def _implausible(sheet: _Sheet, profile: Profile) -> Iterator[Mistake]:
    """Yield what is wrong in a profile though every value is of its type."""
    if not profile.title.strip():
        yield sheet.mistake("title", profile.title, "it is empty", "Say what the unit type is.")
    for field in _NOT_NEGATIVE:
        value = getattr(profile, field)
        if value is not None and value < 0:
            yield sheet.mistake(field, value, "it is below zero", "Give zero or more.")
    for field in _POSITIVE:
        value = getattr(profile, field)
        if value is not None and value <= 0:
            yield sheet.mistake(field, value, "it is not above zero", "Measure it, or take the line away.")
    if profile.poe_class is not None and profile.poe_class not in _POE_CLASSES:
        yield sheet.mistake("poe_class", profile.poe_class, "there is no such class", "PoE classes run from 0 to 8.")
    least, most = _PEUKERT_RANGE
    if profile.peukert_exponent is not None and not least <= profile.peukert_exponent <= most:
        problem = "no battery has such an exponent"
        remedy = f"Give {least:g} to {most:g}: 1 for an ideal battery, near 1.15 for a sealed lead one."
        yield sheet.mistake("peukert_exponent", profile.peukert_exponent, problem, remedy)
    if profile.battery_end_v is not None and profile.output_v is not None and profile.battery_end_v > profile.output_v:
        problem = f"it is above output_v, which is {profile.output_v:g}"
        yield sheet.mistake("battery_end_v", profile.battery_end_v, problem, "Give the output at the end of standby.")
    if profile.poe_efficiency_ratio is not None and profile.poe_efficiency_ratio > 1:
        problem = "no switch gives more than it takes"
        yield sheet.mistake("poe_efficiency_ratio", profile.poe_efficiency_ratio, problem, "Give a share up to 1.")
    if profile.uplinks_count > profile.ports_count:
        problem = f"it has {profile.ports_count} ports, and the uplinks are among them"
        yield sheet.mistake("uplinks_count", profile.uplinks_count, problem, "Count all ports in ports_count.")
    yield from _wrong_identity(sheet, profile)


def _wrong_identity(sheet: _Sheet, profile: Profile) -> Iterator[Mistake]:
    if profile.serial_pattern is not None:
        try:
            re.compile(profile.serial_pattern)
        except re.error as error:
            problem = f"it is no regular expression: {error}"
            yield sheet.mistake("serial_pattern", profile.serial_pattern, problem, "Write for example [A-Z][0-9]{8}.")
    for field in ("device_secret", "sip_secret"):
        policy = getattr(profile, field)
        if policy is None:
            continue
        if policy.length_min_count < 1:
            remedy = "Give at least 1."
            yield sheet.mistake(f"{field}.length_min_count", policy.length_min_count, "it is below 1", remedy)
        if policy.length_max_count < policy.length_min_count:
            problem = f"it is less than length_min_count, which is {policy.length_min_count}"
            yield sheet.mistake(f"{field}.length_max_count", policy.length_max_count, problem, "Exchange the two.")
        if policy.alphabet not in ALPHABETS:
            remedy = f"Take one of: {'; '.join(ALPHABETS)}."
            yield sheet.mistake(f"{field}.alphabet", policy.alphabet, "unknown alphabet", remedy)
    yield from _wrong_firmware(sheet, profile)


def _wrong_firmware(sheet: _Sheet, profile: Profile) -> Iterator[Mistake]:
    versions = Counter(line.version for line in profile.firmware)
    for version, times in versions.items():
        if times > 1:
            problem = f"{times} lines are of this version"
            yield sheet.mistake("firmware", version, problem, "Keep one line a version.")
    for number, line in enumerate(profile.firmware):
        if line.step_s < 0:
            yield sheet.mistake(f"firmware.{number}.step_s", line.step_s, "it is below zero", "Give zero or more.")
    if profile.firmware_baseline is not None and profile.firmware_baseline not in versions:
        problem = "no line of firmware has this version"
        yield sheet.mistake("firmware_baseline", profile.firmware_baseline, problem, "Add the line, or correct it.")


def _wrong_module(
    sheet: _Sheet, profile: Profile, sheets: Mapping[str, _Sheet], profiles: Mapping[str, Profile]
) -> Iterator[Mistake]:
    if profile.module is None:
        if profile.modules_max_count > 0:
            problem = "it takes modules, but the field module does not say which"
            yield sheet.mistake("modules_max_count", profile.modules_max_count, problem, "Name the module's profile.")
    elif profile.module not in sheets:
        yield sheet.mistake("module", profile.module, "no profile has this name", "Name the profile of a module.")
    elif profile.module in profiles and profiles[profile.module].kind not in _MODULES:
        problem = f"that profile is of a {profiles[profile.module].kind.value}"
        yield sheet.mistake("module", profile.module, problem, "Name the profile of a module.")
