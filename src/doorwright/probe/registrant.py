"""Who registers with whom by the plan: each unit with a registrar, its user and its SIP secret, to be asked about."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from doorwright.kernel.verdict import Subject
from doorwright.model.label import natural_key
from doorwright.model.network import SipServer
from doorwright.model.sip_user import sip_user_of
from doorwright.model.unit import SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.plan.pairing import mark_of
from doorwright.probe.target import LeftOut, Target


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What is entered at a unit to register with: its user and its SIP secret."""

    user: str
    secret: str = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Registrant:
    """A unit whose registration is asked about, and where.

    Attributes:
        subject, name: the unit.
        address: where it should be by the plan.
        registrar: the name of what it registers with.
        at: its registrar's address and port for SIP.
        entered: its user and secret.
        mates: the planned addresses of all who share its user at this registrar, its own among them.
    """

    subject: Subject
    name: str
    address: str
    registrar: str
    at: tuple[str, int]
    entered: Entered
    mates: frozenset[str]


def registrants(
    walk: Walk, asked: Sequence[Target], entered: Mapping[str, Entered]
) -> tuple[tuple[Registrant, ...], tuple[LeftOut, ...]]:
    """Return whose registrations are asked about, in order of name, and who is left out.

    Args:
        walk: the way around the site.
        asked: who may be asked, each at its address and ports: no registrar beside these is sent anything.
        entered: user and secret by the identifier of the unit.
    """
    at = {one.subject.id: one for one in asked}
    found: list[Registrant] = []
    left_out: list[LeftOut] = []
    for unit in sorted(walk.all(Unit), key=lambda one: (natural_key(one.name), one.id)):
        if unit.registrar is None:
            continue
        registrar = walk.find(Unit, unit.registrar) or walk.find(SipServer, unit.registrar)
        target, own, here = at.get(unit.registrar), entered.get(unit.id), at.get(unit.id)
        if registrar is None:
            reason = "what it registers with is gone from the plan"
        elif target is None:
            reason = f"its registrar {registrar.label} cannot be asked"
        elif target.ports.sip is None:
            reason = f"its registrar {registrar.label} is not asked over SIP"
        elif here is None:
            reason = "it has no address of its own in the plan"
        elif own is None:
            reason = "it has no user or no SIP secret yet: plan the book with the vault's passphrase"
        else:
            mates = {unit.id, *_sharing(walk, unit, own.user, entered)}
            found.append(
                Registrant(
                    subject=unit.subject,
                    name=unit.name,
                    address=here.address,
                    registrar=registrar.label,
                    at=(target.address, target.ports.sip),
                    entered=own,
                    mates=frozenset(at[ident].address for ident in mates if ident in at),
                )
            )
            continue
        left_out.append(LeftOut(subject=unit.subject, name=unit.name, reason=reason))
    return tuple(found), tuple(left_out)


def _sharing(walk: Walk, unit: Unit, user: str, entered: Mapping[str, Entered]) -> list[str]:
    """Return the other units that have the same user at the same registrar."""
    if unit.dwelling is None:
        return []
    others = (one for one in walk.units_in(unit.dwelling) if one.registrar == unit.registrar)
    return [one.id for one in others if one.id in entered and entered[one.id].user == user]


def entered_by_plan(walk: Walk, secrets: Mapping[str, str]) -> dict[str, Entered]:
    """Return what the plan enters at each unit that registers.

    Args:
        walk: the way around the site.
        secrets: every secret by the identifier of its mark.
    """
    found: dict[str, Entered] = {}
    for unit in walk.all(Unit):
        mark = mark_of(walk, unit, SecretUse.SIP) if unit.registrar is not None else None
        user, secret = sip_user_of(walk, unit), secrets.get(mark.id) if mark is not None else None
        if user is not None and secret is not None:
            found[unit.id] = Entered(user=user, secret=secret)
    return found
