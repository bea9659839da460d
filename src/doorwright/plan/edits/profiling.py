"""Taking a corrected data sheet of a unit type into the site, in the place of the one that the plan was made with."""

from collections.abc import Iterator, Mapping
from dataclasses import fields
from enum import Enum
from typing import Any, Final

from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.power import Supply
from doorwright.model.profile import FirmwareLine, Profile, SecretPolicy
from doorwright.model.unit import KeyModule, SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.called import nearest
from doorwright.plan.edits.edit import Edit, Rework
from doorwright.plan.edits.replacing import fit_keys, tell_of_limits, tell_of_serial


def renew_profile(walk: Walk, key: str, profiles: Mapping[str, Profile]) -> Edit:
    """Put the data sheet as it now is in the place of the site's own copy of it.

    Nothing issued moves but what the corrected sheet says cannot be: keys and modules that the type does not carry are
    given up, and told. Secrets stay; the rules say which of them no longer fit the policy.

    Args:
        walk: the way around the site.
        key: the key of the profile.
        profiles: the data sheets as they now are, by key: those that ship and the user's own.

    Raises:
        Refused: the site does not use the profile, there is no such data sheet any more, it is unchanged, or it now
            describes something of another kind while parts of the site are of this type.
    """
    old, new = walk.profile(key), profiles.get(key)
    own = sorted(profile.key for profile in walk.settings().profiles)
    if old is None:
        remedy = f"Types of the site: {', '.join(nearest(key, own) or own) or 'none'}"
        raise Refused(f"the site has no type {key!r} to renew", remedy=remedy)
    if new is None:
        raise Refused(
            f"there is no data sheet {key!r}: neither among the generic ones nor in the folders of profiles",
            remedy="Put its file into the folder of profiles, or name the folder in the variable DOORWRIGHT_PROFILES.",
        )
    if new == old:
        raise Refused(
            f"the book's copy of {key} is the same as the data sheet",
            remedy="Nothing is left to do, unless the corrected file is not yet where Doorwright looks for profiles.",
        )
    parts = _of_type(walk, key)
    if new.kind is not old.kind and parts:
        raise Refused(
            f"{key} was the sheet of a {old.kind.value} and now is that of a {new.kind.value}; "
            f"{counted(len(parts), 'part')} of the site {'is' if len(parts) == 1 else 'are'} of this type",
            remedy="Give the other type a key of its own.",
        )
    rework = Rework(walk)
    rework.renew_profile(new)
    if new.module is not None and walk.profile(new.module) is None and new.module in profiles:
        rework.take_profile(profiles[new.module])
    for line in differences(old, new):
        rework.tell(line)
    rework.tell(f"{counted(len(parts), 'part')} of the site {'is' if len(parts) == 1 else 'are'} of this type")
    for part in parts:
        _fit(rework, part, old, new)
    return rework.done(f"renew profile {key}")


def differences(old: Profile, new: Profile) -> Iterator[str]:
    """Yield in words what differs between two data sheets of a type, field by field."""
    for field in fields(Profile):
        was, now = getattr(old, field.name), getattr(new, field.name)
        if was == now:
            continue
        if field.name == "firmware":
            yield from _firmware(was, now)
        else:
            yield f"{field.name}: {_said(was)} -> {_said(now)}"


def _firmware(old: tuple[FirmwareLine, ...], new: tuple[FirmwareLine, ...]) -> Iterator[str]:
    was, now = {line.version: line for line in old}, {line.version: line for line in new}
    for version in dict.fromkeys((*was, *now)):
        if version not in now:
            yield f"firmware {version}: went out"
        elif version not in was:
            yield f"firmware {version}: came in ({_line(now[version])})"
        elif was[version] != now[version]:
            yield f"firmware {version}: {_line(was[version])} -> {_line(now[version])}"
    if was == now:
        yield f"firmware: in another order, {', '.join(now)}"


def _line(line: FirmwareLine) -> str:
    keeps = "keeps" if line.keeps_settings else "clears"
    restart = "" if line.needs_restart else ", no restart"
    note = f", {line.tool_note}" if line.tool_note else ""
    return f"{keeps} settings, pairing generation {line.pairing_generation}, {line.step_s:g} s{restart}{note}"


def _said(value: Any) -> str:
    match value:
        case bool():
            text = "yes" if value else "no"
        case Enum():
            text = str(value.value)
        case float():
            text = f"{value:g}"
        case tuple():
            text = ", ".join(map(str, value))
        case SecretPolicy():
            text = f"{value.length_min_count} to {value.length_max_count} characters, {value.alphabet}"
        case _:
            text = str(value) if value is not None else ""
    return text or "nothing"


def _of_type(walk: Walk, key: str) -> list[Part]:
    kinds: tuple[type[Part], ...] = (Unit, KeyModule, Switch, Supply)
    return [part for kind in kinds for part in walk.all(kind) if getattr(part, "profile", None) == key]


_LIMITS: Final = ("ports_count", "registrations_max_count", "outputs_count")
_KEYS: Final = ("keys_count", "modules_max_count", "module")


def _fit(rework: Rework, part: Part, old: Profile, new: Profile) -> None:
    """Tell what the corrected sheet no longer allows of one part, and give up what it does not carry.

    Only what the correction is about is looked at: what was wrong before is the rules' to say.
    """
    match part:
        case Unit() | Switch():
            if _differ(old, new, _LIMITS):
                tell_of_limits(rework, part, new)
            if old.serial_pattern != new.serial_pattern:
                tell_of_serial(rework, part, new, part.serial)
            _tell_of_secrets(rework, part, new)
            if isinstance(part, Unit) and _differ(old, new, _KEYS):
                fit_keys(rework, part, new)
        case KeyModule(unit=ident) if _differ(old, new, _KEYS):
            unit = rework.walk.find(Unit, ident)
            carrier = rework.walk.profile(unit.profile) if unit is not None else None
            if unit is not None and carrier is not None:
                fit_keys(rework, unit, carrier, {new.key: new})


def _differ(old: Profile, new: Profile, names: tuple[str, ...]) -> bool:
    return any(getattr(old, name) != getattr(new, name) for name in names)


def _tell_of_secrets(rework: Rework, part: Unit | Switch, profile: Profile) -> None:
    """Say where a type now takes no secret that was issued. What a sheet newly asks for, the planners issue."""
    policies = {SecretUse.DEVICE: profile.device_secret, SecretUse.SIP: profile.sip_secret}
    for mark in rework.walk.secrets_of(part.id):
        if policies[mark.use] is None:
            rework.trouble(
                (part,),
                f"{profile.title} takes no {mark.use.value}, and one was issued to {part.name}",
                "Leave it unused, or correct the data sheet.",
            )
