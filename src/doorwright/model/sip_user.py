"""The number that rings a unit, and the SIP user as which it registers: one truth for cards, servers and questions."""

from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk


def call_number_of(walk: Walk, unit: Unit) -> str | None:
    """Return the number that rings a unit: its own, or its dwelling's."""
    dwelling = walk.find(Dwelling, unit.dwelling)
    return unit.call_number or (dwelling.call_number if dwelling else None)


def sip_user_of(walk: Walk, unit: Unit) -> str | None:
    """Return the user as which a unit registers with what the plan gives it; None where the plan lacks its number.

    With a SIP server it is the call number, which the receivers of a dwelling share, each with a secret of its own.
    With a unit see ``own_user_of``.
    """
    if walk.find(SipServer, unit.registrar) is not None:
        return call_number_of(walk, unit)
    return own_user_of(walk, unit)


def own_user_of(walk: Walk, unit: Unit) -> str | None:
    """Return a user that no other unit has at the same registrar; None where the plan lacks its number.

    What registers with a unit is told apart by its position: our own spelling, as the plan enters number and position
    and each maker joins them in his own way. Primaries and desks have the number alone, secondaries "101-1", call units
    "vcu-1", or their number where they register with a SIP server.
    """
    number = call_number_of(walk, unit)
    at = unit.position or 0
    if unit.kind is not UnitKind.VCU:
        return number if number is None or unit.kind is UnitKind.SMU or at == 0 else f"{number}-{at}"
    if number is not None and walk.find(SipServer, unit.registrar) is not None:
        return number
    return f"vcu-{at}" if _is_alone_at(walk, unit, at) else f"vcu-{unit.id}"


def _is_alone_at(walk: Walk, unit: Unit, at: int) -> bool:
    """Say whether a call unit is the only one of its registrar at its position; of several no one has it."""
    others = walk.units_registered_with(unit.registrar) if unit.registrar is not None else ()
    return not any(one.id != unit.id and one.kind is UnitKind.VCU and (one.position or 0) == at for one in others)
