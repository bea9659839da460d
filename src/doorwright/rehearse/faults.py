"""Faults put into a rehearsed building on purpose: the causes that the trade knows, each at one end of the plan.

A fault alters boxes as somebody would who enters, plugs or sets something wrongly. What that looks like then comes over
the wire; nothing here says so to the actors. ``look`` is what the trade sees (common practice): the tests hold
that the rehearsal shows it.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from ipaddress import AddressValueError, IPv4Address
from random import Random
from typing import Final, TypeAlias

from doorwright.model.calling import DivertCause
from doorwright.paths.week import AXIS_MIN
from doorwright.rehearse.box import Admitted, Box, KeyForm, Registration, Ringing, Role
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import Planned

Boxes: TypeAlias = Mapping[str, Box]
Changes: TypeAlias = Mapping[str, Box]
"""Boxes that a fault has altered."""

_DEFAULT_ADDRESS: Final = "192.168.1.100"
"""Where a unit answers whose settings were cleared (our own choice)."""


class UnfitError(Exception):
    """The fault cannot be put into this building, or not at this unit; the message says why."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A cause, what it looks like, the units that can have it, and what it does to the boxes."""

    name: str
    cause: str
    look: Look
    fits: Callable[[Boxes, Box], bool]
    put: Callable[[Boxes, Box, Random], Changes]


def with_faults(
    plan: Planned, wanted: tuple[tuple[str, str | None], ...], *, chance: Random
) -> tuple[Boxes, tuple[str, ...]]:
    """Return the boxes with faults in them, and which box each fault was put into.

    Args:
        plan: the boxes as planned.
        wanted: names of faults, each with the identifier of a box, or None for one that chance picks.
        chance: picks.

    Raises:
        UnfitError: no box can have the fault, or this one cannot.
        LookupError: there is no such fault.
    """
    boxes = dict(plan.boxes)
    where: list[str] = []
    for name, ident in wanted:
        fault = FAULTS[name]
        fitting = [box for box in boxes.values() if fault.fits(boxes, box)]
        if ident is not None:
            fitting = [box for box in fitting if box.id == ident]
        if not fitting:
            raise UnfitError(f"{name}: {'nothing here' if ident is None else boxes[ident].name} can have this fault")
        box = chance.choice(fitting)
        boxes |= fault.put(boxes, box, chance)
        where.append(box.id)
    return boxes, tuple(where)


# who can have what


def _any_unit(_boxes: Boxes, box: Box) -> bool:
    return box.role is not Role.SERVER


def _registers(boxes: Boxes, box: Box) -> bool:
    return box.registers is not None and _registrar(boxes, box) is not None


def _is_first(boxes: Boxes, box: Box) -> bool:
    """Whether calls to its dwelling come to it, and another such unit registers with the same registrar."""
    return _registers(boxes, box) and box.role is Role.URU and "-" not in box.user and bool(_others(boxes, box))


def _has_keys(boxes: Boxes, box: Box) -> bool:
    return len(set(box.keys.values()) - _sent_on(boxes, box)) > 1


def _has_hours(_boxes: Boxes, box: Box) -> bool:
    return bool(box.call_hours or box.desk_hours)


def _frees(_boxes: Boxes, box: Box) -> bool:
    return any(release.relay is not None for release in box.releases)


def _frees_two(_boxes: Boxes, box: Box) -> bool:
    return len(box.releases) > 1


def _answers(boxes: Boxes, box: Box) -> bool:
    return box.role in (Role.URU, Role.SMU) and _registers(boxes, box)


def _speaks(_boxes: Boxes, box: Box) -> bool:
    return box.role is not Role.SERVER


def _admits_two(_boxes: Boxes, box: Box) -> bool:
    return len(box.admits) > 1


def _in_vlan(boxes: Boxes, box: Box) -> bool:
    return box.role is not Role.SERVER and len({one.jack.segment for one in boxes.values()}) > 1


def _registrar(boxes: Boxes, box: Box) -> Box | None:
    registers = box.registers
    if registers is None:
        return None
    return next((one for one in boxes.values() if one.jack.address == registers.address and one.admits), None)


def _sent_on(boxes: Boxes, box: Box) -> set[str]:
    """Return the numbers whose calls ring elsewhere at some hour: a fault there might not be seen."""
    router = _registrar(boxes, box) or box
    return {n for n, lines in router.sending.items() if any(line.cause is DivertCause.ALWAYS for line in lines)}


def _others(boxes: Boxes, box: Box) -> list[Box]:
    """Return the first receivers of other dwellings at the same registrar, in order of name."""
    at = box.registers.address if box.registers else ""
    sent_on = _sent_on(boxes, box)
    return [
        one
        for one in boxes.values()
        if one.id != box.id and one.role is Role.URU and "-" not in one.user and one.registers
        and one.user not in sent_on
        and one.registers.address == at
    ]  # fmt: skip


# what each does


def _jack(box: Box, **altered: object) -> Changes:
    return {box.id: replace(box, jack=replace(box.jack, **altered))}  # type: ignore[arg-type]


def _registration(box: Box) -> Registration:
    if box.registers is None:
        raise UnfitError(f"{box.name} registers with nothing")
    return box.registers


def _port_off(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    return _jack(box, link=False)


def _wrong_vlan(boxes: Boxes, box: Box, _chance: Random) -> Changes:
    segments = sorted({one.jack.segment for one in boxes.values()} - {box.jack.segment}, key=str)
    return _jack(box, segment=segments[0])


def _wrong_mask(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    # a wrong gateway: one step beside the right one, where nobody is
    return _jack(box, gateway=_beside(box.jack.gateway or box.jack.address))


def _beside(address: str) -> str:
    try:
        return str(IPv4Address(int(IPv4Address(address)) ^ 0x80))
    except AddressValueError:
        raise UnfitError(f"{address} is no IPv4 address") from None


def _address_twice(boxes: Boxes, box: Box, chance: Random) -> Changes:
    others = [one for one in boxes.values() if one.id != box.id and one.jack.segment == box.jack.segment]
    if not others:
        raise UnfitError(f"{box.name} is alone in its VLAN")
    return _jack(box, address=chance.choice(others).jack.address)


def _registrar_address(boxes: Boxes, box: Box, _chance: Random) -> Changes:
    registers = _registration(box)
    wrong = _beside(registers.address)
    taken = {one.jack.address for one in boxes.values()}
    while wrong in taken:
        wrong = str(IPv4Address(int(IPv4Address(wrong)) + 1))
    return {box.id: replace(box, registers=replace(registers, address=wrong))}


def _wrong_secret(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    registers = _registration(box)
    return {box.id: replace(box, registers=replace(registers, secret=registers.secret[::-1] + "0"))}


def _number_twice(boxes: Boxes, box: Box, chance: Random) -> Changes:
    """The line of another dwelling was entered, at both ends."""
    other = chance.choice(_others(boxes, box))
    mine, theirs = _registration(box), _registration(other)
    registrar = _registrar(boxes, box)
    altered = {box.id: _as(box, theirs)}
    if registrar is not None:
        admits = tuple(one for one in registrar.admits if one.user != mine.user)
        altered[registrar.id] = replace(registrar, admits=admits)
    return altered


def _number_swapped(boxes: Boxes, box: Box, chance: Random) -> Changes:
    """Two lines of the list were entered each at the other's unit."""
    other = chance.choice(_others(boxes, box))
    return {box.id: _as(box, _registration(other)), other.id: _as(other, _registration(box))}


def _as(box: Box, registers: Registration) -> Box:
    """Return the box entered as another: its number is what it answers, too."""
    ringing: dict[str, tuple[Ringing, ...]] = dict(box.ringing)
    if box.user in ringing:
        ringing[registers.user] = ringing.pop(box.user)
    own = _registration(box)
    entered = replace(own, user=registers.user, secret=registers.secret)
    return replace(box, user=registers.user, registers=entered, ringing=ringing)


def _not_entered(boxes: Boxes, box: Box, _chance: Random) -> Changes:
    registrar = _registrar(boxes, box)
    if registrar is None:
        raise UnfitError(f"{box.name} registers with nothing that is there")
    admits: tuple[Admitted, ...] = tuple(one for one in registrar.admits if one.unit != box.id)
    return {registrar.id: replace(registrar, admits=admits)}


def _registrar_full(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    return {box.id: replace(box, room=len(box.admits) - 1)}


def _key_wrong(boxes: Boxes, box: Box, chance: Random) -> Changes:
    sent_on = _sent_on(boxes, box)
    key = chance.choice(sorted(key for key, number in box.keys.items() if number not in sent_on))
    number = chance.choice(sorted(set(box.keys.values()) - {box.keys[key]} - sent_on))
    return {box.id: replace(box, keys={**box.keys, key: number})}


def _timetable_closed(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    """The windows of the first timetable were entered with evening for morning: each holds when it should not."""
    ident = (box.call_hours or tuple(one for one, _ in box.desk_hours))[0]
    spans = tuple(((a + 720) % AXIS_MIN, (b + 720) % AXIS_MIN or AXIS_MIN) for a, b in box.hours.get(ident, ()))
    return {box.id: replace(box, hours={**box.hours, ident: tuple(sorted(s for s in spans if s[0] < s[1]))})}


def _clock_wrong(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    return {box.id: replace(box, clock_late_min=60)}


def _muted(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    return {box.id: replace(box, muted=True)}


def _speech_blocked(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    return {box.id: replace(box, deaf=True)}


def _release_digit(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    return {box.id: replace(box, releases=tuple(replace(one, digit="0") for one in box.releases))}


def _release_form(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    return {box.id: replace(box, hears=frozenset({KeyForm.INFO}))}


def _release_contact(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    doors = [one.door for one in box.releases]
    crossed = (*doors[1:], doors[0])
    return {
        box.id: replace(box, releases=tuple(replace(r, door=d) for r, d in zip(box.releases, crossed, strict=True)))
    }


def _settings_cleared(_boxes: Boxes, box: Box, _chance: Random) -> Changes:
    jack = replace(box.jack, address=_DEFAULT_ADDRESS, cidr=f"{_DEFAULT_ADDRESS}/24", gateway=None)
    return {box.id: replace(box, jack=jack, registers=None)}


def _all() -> Iterator[Fault]:
    yield Fault("port-off", "port off, PoE budget spent, open pair", Look.DARK, _any_unit, _port_off)
    yield Fault("wrong-vlan", "wrong VLAN or port", Look.NO_REPLY, _in_vlan, _wrong_vlan)
    yield Fault(
        "address-twice", "address used twice", Look.TWO_MACS, _registers,
        _address_twice,
    )  # fmt: skip
    yield Fault(
        "wrong-gateway", "wrong mask or gateway", Look.NEAR_ONLY,
        lambda boxes, box: _in_vlan(boxes, box) and box.jack.gateway is not None, _wrong_mask,
    )  # fmt: skip
    yield Fault(
        "registrar-address", "registrar's address wrong",
        Look.NO_ATTEMPT, _registers, _registrar_address,
    )  # fmt: skip
    yield Fault(
        "wrong-secret", "SIP secret differs", Look.REFUSED_401, _registers,
        _wrong_secret,
    )  # fmt: skip
    yield Fault("number-swapped", "call number differs", Look.RINGS_ELSEWHERE, _is_first, _number_swapped)
    yield Fault("number-twice", "call number used twice", Look.TWO_RING, _is_first, _number_twice)
    yield Fault("not-entered", "unit not entered at the registrar", Look.REFUSED_404, _registers, _not_entered)
    yield Fault(
        "registrar-full", "registrar full", Look.REFUSED_403, _admits_two,
        _registrar_full,
    )  # fmt: skip
    yield Fault(
        "settings-cleared", "settings cleared by firmware", Look.ELSEWHERE,
        _answers, _settings_cleared,
    )  # fmt: skip
    yield Fault("key-wrong", "key names the wrong number", Look.ONE_KEY, _has_keys, _key_wrong)
    yield Fault("timetable-wrong", "timetable entered wrongly", Look.SOME_HOURS, _has_hours, _timetable_closed)
    yield Fault("clock-wrong", "clock wrong", Look.SOME_HOURS, _has_hours, _clock_wrong)
    yield Fault("muted", "unit muted or set not to disturb", Look.NOT_HEARD, _answers, _muted)
    yield Fault("speech-blocked", "RTP blocked on its way to the unit", Look.ONE_WAY, _speaks, _speech_blocked)
    yield Fault("release-digit", "release digit wrong", Look.RELEASE_DEAD, _frees, _release_digit)
    yield Fault("release-form", "keys told in another form", Look.RELEASE_DEAD, _frees, _release_form)
    yield Fault(
        "release-contact", "relay wired to the wrong contact", Look.OTHER_DOOR, _frees_two,
        _release_contact,
    )  # fmt: skip


FAULTS: Final[Mapping[str, Fault]] = {fault.name: fault for fault in _all()}
"""Every fault that can be put into a building, by name."""
