"""Every study of a site, for the annex of workings in the printed pack."""

from collections.abc import Iterator
from typing import Any

from doorwright.model.door import Door
from doorwright.model.network import CableRun, Subnet, Switch
from doorwright.model.power import Supply
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.link_length import link_length
from doorwright.studies.lock_voltage import lock_voltage
from doorwright.studies.poe_at_unit import poe_at_unit
from doorwright.studies.secret_strength import secret_strength
from doorwright.studies.study import Study
from doorwright.studies.subnet_room import subnet_room
from doorwright.studies.supply_load import supply_load
from doorwright.studies.switch_power import switch_power


def all_studies(walk: Walk) -> Iterator[Study[Any]]:
    """Yield every study of every part, also those that wait for facts; not those whose question does not arise."""
    for study in _all(walk):
        if study.value is not None or study.missing:
            yield study


def _all(walk: Walk) -> Iterator[Study[Any]]:
    yield from (poe_at_unit(walk, unit) for unit in walk.all(Unit))
    yield from (link_length(walk, run) for run in walk.all(CableRun))
    yield from (switch_power(walk, switch) for switch in walk.all(Switch))
    yield from (lock_voltage(walk, door) for door in walk.all(Door))
    yield from (supply_load(walk, supply) for supply in walk.all(Supply))
    yield from (subnet_room(walk, subnet) for subnet in walk.all(Subnet))
    used = {unit.profile for unit in walk.all(Unit)} | {switch.profile for switch in walk.all(Switch)}
    policies = (
        policy
        for profile in walk.settings().profiles
        if profile.key in used
        for policy in (profile.device_secret, profile.sip_secret)
        if policy is not None
    )
    yield from (secret_strength(policy) for policy in dict.fromkeys(policies))
