"""Putting another box in the place of a unit or switch."""

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.words import counted
from doorwright.model.naming import named
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.called import called, profile_called
from doorwright.plan.edits.edit import Edit, Rework

_MAC_MARKS: Final = re.compile(r"[\s:.\-–]")
NO_OTHERS: Final[Mapping[str, Profile]] = MappingProxyType({})
"""No data sheets but the site's own."""
_MAC: Final = re.compile(r"[0-9A-F]{12}")


def replace_unit(
    walk: Walk,
    name: str,
    *,
    serial: str,
    mac: str | None = None,
    profile: str | None = None,
    firmware: str | None = None,
    profiles: Mapping[str, Profile],
) -> Edit:
    """Put another box in the place of a unit or switch: it takes over the number, address, keys, registrar and port.

    Its secrets are entered in the new box, so that what it registers with need not learn new ones.

    Args:
        walk: the way around the site.
        name: what the unit or switch is called.
        serial: serial number of the new box.
        mac: its MAC address, in any usual form; unknown where it is not given.
        profile: its type, where that is another one.
        firmware: its firmware version; unknown where it is not given.
        profiles: the types to choose from, by key.

    Raises:
        Refused: there is no such unit, the serial number or MAC address is another's, or the type does not fit.
    """
    old: Unit | Switch = called(walk, name, Unit, Switch)
    identity = read_identity(walk, serial=serial, mac=mac, but_for=old)
    if identity["serial"] == old.serial:
        raise Refused(
            f"{old.name} has the serial number {old.serial} already",
            remedy="Give the serial number on the box that takes its place.",
        )
    rework = Rework(walk)
    values: dict[str, Any] = dict(identity)
    new_profile = walk.profile(old.profile)
    if profile is not None and profile != old.profile:
        kind = old.kind.value if isinstance(old, Unit) else "switch"
        new_profile = profile_called(profiles, profile, [kind])
        rework.take_profile(new_profile)
        values["profile"] = new_profile.key
        tell_of_limits(rework, old, new_profile)
        if isinstance(old, Unit):
            fit_keys(rework, old, new_profile)
    if isinstance(old, Unit):
        values["firmware"] = firmware
    elif firmware is not None:
        rework.tell(f"The book keeps no firmware of switches: {firmware} is not recorded")
    tell_of_serial(rework, old, new_profile, identity["serial"])
    rework.put(old, **values)
    was = f"serial {old.serial} -> {identity['serial']}" if old.serial else f"serial {identity['serial']}"
    return rework.done(f"replace {old.name}: {was}")


def read_identity(walk: Walk, *, serial: str | None, mac: str | None, but_for: Part | None = None) -> dict[str, Any]:
    """Return the serial number and MAC address of a box, in the form in which the book keeps them.

    Raises:
        Refused: one of them cannot be read, or is another part's already; both are told at once.
    """
    mistakes = []
    serial = serial.strip() if serial is not None else None
    if serial == "":
        mistakes.append(_mistake("serial number", "", "it is empty", "Give the number on the box."))
    digits = _MAC_MARKS.sub("", mac).upper() if mac is not None else None
    if digits is not None and not _MAC.fullmatch(digits):
        remedy = "Give 12 hexadecimal digits, such as 00-00-5E-00-53-01."
        mistakes.append(_mistake("MAC address", mac or "", "this is no MAC address", remedy))
        digits = None
    read_mac = "-".join(digits[at : at + 2] for at in range(0, 12, 2)) if digits is not None else None
    holders = (
        ("serial number", serial, walk.holders_of_serial(serial) if serial else ()),
        ("MAC address", read_mac, walk.holders_of_mac(read_mac) if read_mac else ()),
    )
    for what, read, parts in holders:
        others = [part for part in parts if but_for is None or part.id != but_for.id]
        if others:
            problem = f"{named(walk, others[0])} has it already"
            remedy = "Read the box again; if the other one is wrong, correct that first."
            mistakes.append(_mistake(what, read or "", problem, remedy))
    if mistakes:
        raise Refused("the box cannot be entered", mistakes=tuple(mistakes))
    return {"serial": serial, "mac": read_mac}


def tell_of_serial(rework: Rework, part: Part, profile: Profile | None, serial: str | None) -> None:
    """Say where a serial number is not of the form that its type's data sheet gives."""
    if serial is None or profile is None or profile.serial_pattern is None:
        return
    if not re.fullmatch(profile.serial_pattern, serial):
        rework.trouble(
            (part,),
            f"{serial} is not of the form of the serial numbers of {profile.title}: {profile.serial_pattern}",
            "Read the box again; if it is right, correct the form in the profile.",
        )


def _mistake(what: str, read: str, problem: str, remedy: str) -> Mistake:
    return Mistake(where=what, read=read, problem=problem, remedy=remedy)


def tell_of_limits(rework: Rework, old: Unit | Switch, profile: Profile) -> None:
    """Say what a part does in the plan that a type cannot do: ports, registrations, outputs."""
    walk = rework.walk
    if isinstance(old, Switch):
        used = {run.near_port for run in walk.runs_from(old.id)} | {run.far_port for run in walk.runs_to(old.id)}
        beyond = sorted(port for port in used if port is not None and port > profile.ports_count)
        if beyond:
            rework.trouble(
                (old,),
                f"{profile.title} has {profile.ports_count} ports; cables are at port {_listed(beyond)}",
                "Take a type with as many ports, or give these cable runs other ports.",
            )
        return
    waiting_count = len(walk.units_registered_with(old.id))
    if waiting_count > profile.registrations_max_count:
        rework.trouble(
            (old,),
            f"{waiting_count} units register with {old.name}; {profile.title} takes {profile.registrations_max_count}",
            "Take a type that registers as many, split the group of entrances, or add a SIP server.",
        )
    modules = [walk.profile(module.profile) for module in walk.modules_of(old.id)]
    outputs_count = profile.outputs_count + sum(
        one.outputs_count for one in modules if one is not None and one.kind is ProfileKind.LOCK_MODULE
    )
    doors = [door for door in walk.doors_freed_by(old.id) if (door.output or 1) > outputs_count]
    if doors:
        names = ", ".join(door.name for door in doors)
        rework.trouble(
            (old, *doors),
            f"{profile.title} has {counted(outputs_count, 'output')} here: {names} would not be freed",
            "Take a type with as many outputs, or bring the lock to another unit.",
        )


def fit_keys(rework: Rework, old: Unit, profile: Profile, others: Mapping[str, Profile] = NO_OTHERS) -> None:
    """Take away the keys and key modules that a type does not carry. Lock modules stay: they go with any unit.

    Args:
        rework: the edit.
        old: the unit.
        profile: the type that it is to be of.
        others: data sheets of modules that are renewed with it, by key.
    """
    walk = rework.walk
    fitting: dict[int, int] = {0: profile.keys_count}
    room = profile.modules_max_count
    for module in sorted(walk.modules_of(old.id), key=lambda module: module.ordinal):
        own = others.get(module.profile) or walk.profile(module.profile)
        if own is not None and own.kind is ProfileKind.LOCK_MODULE:
            continue
        if room > 0 and module.profile == profile.module:
            fitting[module.ordinal] = own.keys_count if own else 0
            room -= 1
        else:
            rework.drop(module)
            rework.tell(f"Module {module.ordinal} of {old.name} is left out: {profile.title} does not carry it")
    lost = [key for key in walk.keys_of(old.id) if key.slot > fitting.get(key.module, 0)]
    for key in lost:
        rework.drop(key)
    if lost:
        given = f"{counted(len(lost), 'key')} of {old.name} {'is' if len(lost) == 1 else 'are'} given up"
        rework.tell(f"{given}: {profile.title} does not have {'it' if len(lost) == 1 else 'them'}")


def _listed(numbers: list[int]) -> str:
    return ", ".join(map(str, numbers))
