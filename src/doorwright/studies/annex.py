"""Every study of a site, for the annex of workings in the printed pack."""

from collections.abc import Callable, Iterator
from typing import Any, Final

from doorwright.model.door import Door
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
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

_STUDIES: Final[tuple[tuple[type[Part], Callable[[Walk, Any], Study[Any]]], ...]] = (
    (Unit, poe_at_unit),
    (CableRun, link_length),
    (Switch, switch_power),
    (Door, lock_voltage),
    (Door, contact_load),
    (Supply, supply_load),
    (Supply, supply_network),
    (Supply, standby),
    (CableRun, fuse_load),
    (Subnet, subnet_room),
    (Entrance, entrance_traffic),
    (Unit, registrar_calls),
    (SipServer, registrar_calls),
    (CableRun, link_streams),
    (Entrance, speech_path),
)
"""Every study of a part, by the kind of part that it is about."""


def all_studies(walk: Walk) -> Iterator[Study[Any]]:
    """Yield every study of every part, also those that wait for facts; not those whose question does not arise."""
    for study in _all(walk):
        if study.value is not None or study.missing:
            yield study


def studies_of(walk: Walk, part: Part) -> Iterator[Study[Any]]:
    """Yield every study of one part, as ``all_studies`` does."""
    for kind, question in _STUDIES:
        if isinstance(part, kind):
            study = question(walk, part)
            if study.value is not None or study.missing:
                yield study


def _all(walk: Walk) -> Iterator[Study[Any]]:
    for kind, question in _STUDIES:
        yield from (question(walk, part) for part in walk.all(kind))
    yield desk_queue(walk)
    used = {unit.profile for unit in walk.all(Unit)} | {switch.profile for switch in walk.all(Switch)}
    policies = (
        policy
        for profile in walk.settings().profiles
        if profile.key in used
        for policy in (profile.device_secret, profile.sip_secret)
        if policy is not None
    )
    yield from (secret_strength(policy) for policy in dict.fromkeys(policies))
