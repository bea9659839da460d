"""All rules, by area and by identifier."""

import inspect
from types import MappingProxyType, ModuleType
from typing import Final

from doorwright.rules import (
    addresses,
    asked,
    cabling,
    desks,
    doors,
    entrances,
    firmware,
    found,
    keys,
    locks,
    media,
    numbers,
    pairing,
    paths,
    power,
    records,
    rights,
    secrets,
    signoffs,
    streams,
    subnets,
    supplies,
    switched,
    traffic,
)
from doorwright.rules.rule import Rule

AREAS: Final[tuple[ModuleType, ...]] = (
    entrances, numbers, keys, subnets, addresses, pairing, media, secrets, power, supplies, cabling, doors, locks,
    records, firmware, found, asked, switched, signoffs, paths, desks, rights, traffic, streams,
)  # fmt: skip
"""In the order in which a plan is made."""


def rules_of(area: ModuleType) -> tuple[Rule, ...]:
    """Return the rules of one area, in order of writing."""
    return tuple(value for value in vars(area).values() if isinstance(value, Rule))


def title_of(area: ModuleType) -> str:
    """Return what an area is about, as the first line of its module says it."""
    return (inspect.getdoc(area) or area.__name__).splitlines()[0].rstrip(".")


RULES: Final[tuple[Rule, ...]] = tuple(one for area in AREAS for one in rules_of(area))
RULE_BY_ID: Final = MappingProxyType({one.id: one for one in RULES})
