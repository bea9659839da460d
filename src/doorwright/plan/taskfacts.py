"""What somebody needs at hand for a task of the run sheet: its place, what to enter, to read off and to mind."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from doorwright.kernel.work import Quantity
from doorwright.model.door import Door
from doorwright.model.naming import where_is
from doorwright.model.network import Switch
from doorwright.model.place import Dwelling
from doorwright.model.unit import SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.plan.pairing import Entry, address_entries, pairing_of, secret_entry
from doorwright.plan.runsheet import Action, Task


@dataclass(frozen=True, slots=True)
class End:
    """What is entered at one end: the name of what it is entered in, and the entries. A secret is named by its line."""

    name: str
    entries: tuple[Entry, ...]


_AT_A_PORT: Final = (Quantity.LINK_SPEED, Quantity.POE_POWER, Quantity.LOOP_RESISTANCE)
QUANTITIES: Final[Mapping[Action, tuple[Quantity, ...]]] = MappingProxyType(
    {
        Action.POWER_UP: (Quantity.LINK_SPEED,),
        Action.ENTER_USERS: (),
        Action.SET_UP: _AT_A_PORT,
        Action.PAIR: _AT_A_PORT,
        Action.PAIR_SECONDARY: _AT_A_PORT,
        Action.FIND: _AT_A_PORT,
        Action.LOOK: (),
        Action.CALL: (Quantity.LOCK_VOLTAGE, Quantity.LOCK_CURRENT),
    }
)
"""What can be read off at each kind of task (common practice)."""


def place_of(walk: Walk, task: Task) -> str:
    """Return the place under which a task is grouped: core and level for what is in dwellings, else where it is."""
    first = task.parts[0]
    dwelling = walk.find(Dwelling, first.dwelling) if isinstance(first, Unit) else None
    return where_is(walk, dwelling) if dwelling is not None else task.where


def ends_of(walk: Walk, task: Task) -> tuple[End, ...]:
    """Return what is entered for a task at each end. Where all units are only looked at again, nothing is."""
    return tuple(_ends(walk, task))


def _ends(walk: Walk, task: Task) -> Iterator[End]:
    first = task.parts[0]
    if task.kind in {Action.LOOK, Action.CALL}:
        return
    if isinstance(first, Switch):
        yield End(first.name, (*address_entries(walk, first), secret_entry(walk, first, SecretUse.DEVICE)))
    elif isinstance(first, Unit):
        pairing = pairing_of(walk, first)
        yield End(first.name, pairing.at_unit)
        if pairing.registrar is not None:
            yield End(pairing.registrar.name, pairing.at_registrar)


def caution_of(task: Task) -> str:
    """Return what to mind at a task, or nothing. Local codes and licensed people decide."""
    if task.kind is Action.POWER_UP:
        return "Mains: only people licensed for it connect it."
    if task.kind is Action.CALL and any(isinstance(part, Door) for part in task.parts):
        return "Keep every way out free while locks are tested; on escape routes follow the local code."
    return ""
