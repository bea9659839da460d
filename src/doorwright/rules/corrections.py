"""What to correct where a unit or switch was found or rehearsed other than planned, and at which end of its pairing."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from doorwright.kernel.observation import Stage
from doorwright.model.aspect import DOWN, Aspect, Standing
from doorwright.model.naming import named
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.place import Dwelling
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.planned import registrar_of, run_to
from doorwright.rules.saying import others


@dataclass(frozen=True, slots=True)
class Case:
    """A difference to be corrected: of which part, in what, the planned value and the one seen, and where it was.

    ``standing`` is what its registrar said to its SIP secret, where it was asked.
    """

    walk: Walk
    part: Unit | Switch
    aspect: Aspect
    planned: str
    found: str
    stage: Stage = Stage.FOUND
    standing: str = ""


@dataclass(frozen=True, slots=True)
class Correction:
    """What to do, and the other parts that it concerns."""

    to_do: str
    also: tuple[Part, ...] = ()


def correction(case: Case) -> Correction:
    """Return what to do in a case."""
    return _BY_ASPECT[case.aspect](case)


def _entered(case: Case) -> Correction:
    """Say what to enter at the part, and what its registrar should have."""
    return Correction(f"at {case.part.label} enter {case.aspect} {case.planned}{_other_end(case)}")


def _address(case: Case) -> Correction:
    holders = others(case.part, case.walk.holders_of_address(case.found))
    whose = f"; {case.found} is that of {named(case.walk, holders[0])} in the plan" if holders else ""
    return Correction(f"{_entered(case).to_do}{whose}", holders)


def _call_number(case: Case) -> Correction:
    own = case.walk.find(Dwelling, case.part.dwelling) if isinstance(case.part, Unit) else None
    rung = others(own or case.part, case.walk.dwellings_numbered(case.found))
    whose = f"; {case.found} rings dwelling {rung[0].label} in the plan" if rung else ""
    return Correction(f"{_entered(case).to_do}{whose}", rung)


def _position(case: Case) -> Correction:
    return Correction(f"{_entered(case).to_do}; the unit restarts when its position changes")


def _other_end(case: Case) -> str:
    registrar = registrar_of(case.walk, case.part)
    if not isinstance(registrar, Unit):
        return ""
    return f"; at its registrar {registrar.name} the entry is right where it says {case.planned}"


def _vlan(case: Case) -> Correction:
    there = run_to(case.walk, case.part)
    where = f"{there[1].name}, at the port of cable {there[0].name}," if there else "its switch"
    return Correction(
        f"at {where} set VLAN {case.planned}; where {case.part.label} tags its own frames, enter it there too"
    )


def _registrar(case: Case) -> Correction:
    registrar = registrar_of(case.walk, case.part)
    who = f", that of {registrar.label}; nothing changes there" if registrar else ""
    return Correction(f"at {case.part.label} enter registrar's address {case.planned}{who}")


def _firmware(case: Case) -> Correction:
    return Correction(
        f"take the record of {case.part.label}, then load {case.planned}: a step may clear its settings; if"
        f" {case.found} is meant to be there, enter it in the plan"
    )


def _port(case: Case) -> Correction:
    return Correction(f"move its cable to {case.planned}, or enter {case.found} in the plan if it is to stay there")


def _another_unit(case: Case) -> Correction:
    holders_of = case.walk.holders_of_serial if case.aspect is Aspect.SERIAL else case.walk.holders_of_mac
    there = others(case.part, holders_of(case.found))
    registrar = registrar_of(case.walk, case.part)
    told = f", and its serial number at its registrar {registrar.label}" if isinstance(registrar, Unit) else ""
    if there:
        return Correction(
            f"{case.found} is that of {named(case.walk, there[0])} in the plan: put each where it belongs, or enter"
            f" what hangs where in the plan{told}",
            there,
        )
    return Correction(
        f"look at the label of {case.part.label}: if it was replaced, enter {case.found} in the plan{told}"
    )


def _registering(case: Case) -> Correction:
    registrar = registrar_of(case.walk, case.part)
    at_other_end = f"at {registrar.label} its entry" if registrar else "its registrar"
    both_ends = (
        f"compare at {case.part.label} its registrar's address and SIP secret, and {at_other_end}: serial number, call"
        " number or position, SIP secret"
    )
    if registrar is not None and case.standing == Standing.ACCEPTED:
        first = "" if case.stage is Stage.REHEARSED else "wait some minutes and ask again if it was just paired; then, "
        return Correction(
            f"{first}as {registrar.label} takes its user and SIP secret, correct it at {case.part.label}:"
            f" registrar's address {registrar.address}, user, SIP secret"
        )
    if case.stage is Stage.REHEARSED:  # there everybody had time enough, and secrets are alike unless spoilt on purpose
        return Correction(f"{both_ends}; in the plan its subnet, VLAN and gateway, and the room at its registrar")
    return Correction(f"wait some minutes and look again if it was just paired; then {both_ends}")


def _name(case: Case) -> Correction:
    return Correction(f"at {case.part.label} enter {case.aspect} {case.planned}, or call it {case.found} in the plan")


def _power(case: Case) -> Correction:
    there = run_to(case.walk, case.part)
    at = f"{there[1].name}, at the port of cable {there[0].name}," if there else "its switch"
    if float(case.found) == 0:
        return Correction(
            f"see that {at} gives {case.part.label} power; if something else feeds it, say so in its profile"
        )
    return Correction(
        f"see which type {case.part.label} is and what is connected to it: by its profile {at} need not give more than"
        f" {case.planned} W; if its data sheet says more, correct the profile and look at the switch's budget"
    )


def _slow_link(case: Case) -> Correction:
    there = run_to(case.walk, case.part)
    cable = f"cable {there[0].name}" if there else "its cable"
    if case.found == DOWN:
        return Correction(f"see that {case.part.label} has power, then test {cable} end to end")
    return Correction(
        f"test {cable} and both its connectors pair by pair: one bad pair shows so; if the data sheet of"
        f" {case.part.label} gives its port no more than {case.found} Mb/s, enter that in its profile"
    )


_BY_ASPECT: Final[Mapping[Aspect, Callable[[Case], Correction]]] = MappingProxyType(
    {
        Aspect.NAME: _name,
        Aspect.SERIAL: _another_unit,
        Aspect.MAC: _another_unit,
        Aspect.ADDRESS: _address,
        Aspect.MASK: _entered,
        Aspect.GATEWAY: _entered,
        Aspect.VLAN: _vlan,
        Aspect.REGISTRAR: _registrar,
        Aspect.CALL_NUMBER: _call_number,
        Aspect.POSITION: _position,
        Aspect.FIRMWARE: _firmware,
        Aspect.PORT: _port,
        Aspect.LINK: _slow_link,
        Aspect.POE: _power,
        Aspect.REGISTERED: _registering,
    }
)
