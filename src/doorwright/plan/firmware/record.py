"""What must be recorded before units are cleared: each fact that the step would lose and the book does not hold."""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from doorwright.kernel.observation import Seen
from doorwright.model.aspect import Aspect
from doorwright.model.network import Subnet
from doorwright.model.unit import SecretUse, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.firmware.rebuild import Line, in_order_of_work, rebuild_lines

_IDENTITY: Final = (("serial number", "serial"), ("MAC address", "mac"))
_ASPECT: Final = MappingProxyType(
    {
        "serial number": Aspect.SERIAL,
        "MAC address": Aspect.MAC,
        "address": Aspect.ADDRESS,
        "mask": Aspect.MASK,
        "gateway": Aspect.GATEWAY,
        "VLAN": Aspect.VLAN,
        "registrar": Aspect.REGISTRAR,
        "registrar's address": Aspect.REGISTRAR,
        "call number": Aspect.CALL_NUMBER,
        "SIP user": Aspect.CALL_NUMBER,
        "position": Aspect.POSITION,
    }
)
"""Under which aspect each fact is seen on site."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A fact about a unit that would be lost at the cleared ``unit``; ``remedy`` says what to do before that."""

    unit: Unit
    about: Unit
    field: str
    problem: str
    remedy: str


def gaps(walk: Walk, units: Iterable[Unit], *, sealed: Collection[str], seen: Seen) -> tuple[Gap, ...]:
    """Return what is to be recorded before these units are cleared, in the order of work.

    Args:
        walk: the way around the site.
        units: the units that the step clears.
        sealed: the identifiers of the secrets that lie in the vault.
        seen: what counts of all that was seen in the real building.
    """
    first: dict[tuple[str, str], Gap] = {}
    for unit in in_order_of_work(walk, units):
        for gap in _gaps_at(walk, unit, sealed, seen):
            first.setdefault((gap.about.id, gap.field), gap)  # a secret is at both ends, and is missing once
    return tuple(first.values())


def _gaps_at(walk: Walk, unit: Unit, sealed: Collection[str], seen: Seen) -> Iterator[Gap]:
    for name, field in _IDENTITY:
        yield from _fact(unit, unit, name, getattr(unit, field), seen)
    if unit.registrar is None and (unit.position != 0 or unit.kind is UnitKind.URU):
        yield from _fact(unit, unit, "registrar", None, seen)
    for line in rebuild_lines(walk, unit):
        if line.secret is not None:
            yield from _secret(walk, line, sealed)
        elif not _has_none(walk, line):
            yield from _fact(unit, line.about, line.field, line.value, seen)
    profile = walk.profile(unit.profile)
    if profile is not None and profile.keys_count and not walk.keys_of(unit.id):
        yield Gap(
            unit=unit,
            about=unit,
            field="key plan",
            problem="the book has none of its keys",
            remedy="Write down which key rings whom, and import it.",
        )


def _fact(unit: Unit, about: Unit, field: str, value: str | None, seen: Seen) -> Iterator[Gap]:
    observed = seen.get(about.subject, {}).get(_ASPECT.get(field, ""))
    found = observed.value if observed else None
    if value is None and found is None:
        problem, remedy = "not in the book", "Read it off the unit or its present settings, and import it."
    elif value is None:
        problem, remedy = f"only seen on site: {found}", "Put it in the book, or say what is right instead."
    elif found is not None and found.strip().casefold() != value.casefold():
        problem = f"the book says {value}, on site it was seen as {found}"
        remedy = "Settle which of them is to be entered again, and correct the other."
    else:
        return
    yield Gap(unit=unit, about=about, field=field, problem=problem, remedy=remedy)


def _secret(walk: Walk, line: Line, sealed: Collection[str]) -> Iterator[Gap]:
    profile = walk.profile(line.about.profile)
    policy = profile and (profile.device_secret if line.secret is SecretUse.DEVICE else profile.sip_secret)
    if line.mark is None and policy is not None:
        problem, remedy = "not issued by the plan", "Give the units a secret that the vault holds: doorwright plan."
    elif line.mark is not None and line.mark not in sealed:
        problem, remedy = f"{line.value} is not in the vault", "Put it in the vault, or have a new one made and set it."
    else:
        return
    yield Gap(unit=line.unit, about=line.about, field=line.field, problem=problem, remedy=remedy)


def _has_none(walk: Walk, line: Line) -> bool:
    """Say whether nothing is to be entered: a subnet of its own may have no gateway."""
    return line.field == "gateway" and line.value is None and walk.find(Subnet, line.about.subnet) is not None
