"""How visitors spread over the entrances: what studies of traffic and the simulated day take for granted alike."""

from doorwright.model.calling import RingMode
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk

SPREAD = "visitors spread evenly over the entrances from which a dwelling can be called"
"""The assumption behind every share of an entrance; nothing in a plan says which way visitors prefer."""


def call_units_at(walk: Walk, entrance: Entrance) -> tuple[Unit, ...]:
    """Return the VCUs of an entrance in order of name."""
    units = (unit for unit in walk.units_at(entrance.id) if unit.kind is UnitKind.VCU)
    return tuple(sorted(units, key=lambda unit: (unit.name, unit.id)))


def entrances_calling(walk: Walk, dwelling: Dwelling) -> tuple[Entrance, ...]:
    """Return the entrances with a VCU from which a dwelling can be called, in order of name."""
    serving = (entrance for entrance in walk.entrances_serving(dwelling) if call_units_at(walk, entrance))
    return tuple(sorted(serving, key=lambda entrance: (entrance.name, entrance.id)))


def ring_limit_s(walk: Walk, dwelling: Dwelling) -> float:
    """Return how long an unanswered call rings in a dwelling: receivers that ring in turn ring one after the other."""
    choices = walk.settings().choices
    limit_s = dwelling.ring_s if dwelling.ring_s is not None else choices.ring_s
    in_turn = (dwelling.ring_mode or choices.ring_mode) is RingMode.IN_TURN
    return float(limit_s * max(1, len(walk.units_in(dwelling.id)))) if in_turn else float(limit_s)


def desk_units(walk: Walk) -> tuple[Unit, ...]:
    """Return the desks: every SMU is one position, and any of them may take any call to a desk."""
    return walk.units_of_kind(UnitKind.SMU)
