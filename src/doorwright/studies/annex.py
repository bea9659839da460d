"""Every study of a site, for the annex of workings in the printed pack."""

from collections.abc import Iterator
from typing import Any

from doorwright.model.door import Door
from doorwright.model.network import CableRun, Subnet, Switch
from doorwright.model.place import Entrance
from doorwright.model.power import Supply
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.contact_load import contact_load
from doorwright.studies.desk_queue import desk_queue
from doorwright.studies.entrance_traffic import entrance_traffic
from doorwright.studies.fuse_load import fuse_load
from doorwright.studies.link_length import link_length
from doorwright.studies.link_streams import link_streams
from doorwright.studies.lock_voltage import lock_voltage
from doorwright.studies.poe_at_unit import poe_at_unit
from doorwright.studies.registrar_calls import registrar_calls
from doorwright.studies.secret_strength import secret_strength
from doorwright.studies.speech_path import speech_path
from doorwright.studies.standby import standby
from doorwright.studies.study import Study
from doorwright.studies.subnet_room import subnet_room
from doorwright.studies.supply_load import supply_load
from doorwright.studies.supply_network import supply_network
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
    yield from (contact_load(walk, door) for door in walk.all(Door))
    yield from (supply_load(walk, supply) for supply in walk.all(Supply))
    yield from (supply_network(walk, supply) for supply in walk.all(Supply))
    yield from (standby(walk, supply) for supply in walk.all(Supply))
    yield from (fuse_load(walk, run) for run in walk.all(CableRun))
    yield from (subnet_room(walk, subnet) for subnet in walk.all(Subnet))
    yield from (entrance_traffic(walk, entrance) for entrance in walk.all(Entrance))
    yield desk_queue(walk)
    yield from (registrar_calls(walk, unit) for unit in walk.all(Unit))
    yield from (link_streams(walk, run) for run in walk.all(CableRun))
    yield from (speech_path(walk, entrance) for entrance in walk.all(Entrance))
    used = {unit.profile for unit in walk.all(Unit)} | {switch.profile for switch in walk.all(Switch)}
    policies = (
        policy
        for profile in walk.settings().profiles
        if profile.key in used
        for policy in (profile.device_secret, profile.sip_secret)
        if policy is not None
    )
    yield from (secret_strength(policy) for policy in dict.fromkeys(policies))
