"""Calls that went otherwise than the proof of the call paths says, and what to correct at which end.

What became of a call is told statement after statement: who rang, who took it, which digit freed which door, whether
both ends heard each other. What differs first shows where to look (common practice).
"""

from doorwright.kernel.words import counted
from doorwright.model.rehearsed import BETWEEN, NO_CALL, NOTHING_RANG, ONE_WAY, SEEN, TOOK, Apart
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.planned import registrar_of


def said_of(called: str, apart: Apart) -> str:
    """Return calls that went otherwise, as words that follow the call unit's name.

    Args:
        called: which calls, as "key 1.3 to 101".
        apart: how many of them, and the first.
    """
    return (
        f"{called}: {apart.count} of {counted(apart.of_count, 'call')} went otherwise than proved, first {apart.when}:"
        f" {apart.happened}; proved: {apart.proved}"
    )


def call_to_do(walk: Walk, unit: Unit, called: str, apart: Apart) -> str:
    """Return what to correct at which end.

    Args:
        walk: the way around the site.
        unit: the call unit at which the calls were made.
        called: which calls.
        apart: how many of them went otherwise, and the first.
    """
    here = unit.label
    happened, proved = apart.happened.split(BETWEEN), apart.proved.split(BETWEEN)
    if NO_CALL in (apart.happened, apart.proved):
        return f"at {here} compare its call hours with the plan, and its clock"
    if happened[0] != proved[0]:
        return _who_rings(walk, unit, called, apart, is_silent=happened[0] == NOTHING_RANG)
    if ONE_WAY in happened and ONE_WAY not in proved:
        return (
            f"see that speech (RTP over UDP) passes both ways between {here} and whoever took the call: look at the"
            " gateways and at what filters between their subnets, and at the address that each gives for its speech"
        )
    if _took(happened) != _took(proved):
        return "see that whoever should take the call is not muted, set not to disturb or busy, and is registered"
    if _doors(happened) == _doors(proved) and SEEN in proved:
        return (
            f"compare which picture codecs and profiles {here} and whoever took the call have; see how much the links"
            " between their switches carry"
        )
    return (
        f"compare at {here} which digit frees which door, who may free it and when, and how keys are heard; at whoever"
        " took the call how keys are told (RFC 4733 or INFO); at the relay which output is wired to which door"
    )


def _who_rings(walk: Walk, unit: Unit, called: str, apart: Apart, *, is_silent: bool) -> str:
    here, router = unit.label, _router(walk, unit)
    entry = f"what {called.partition(' to ')[0]} calls"
    hours = "its diverts and their hours" + (", and its clock" if apart.count < apart.of_count else "")
    where = f"at {here} {entry}, and " + ("" if router == here else f"at {router} ")
    if is_silent:
        return (
            f"see that {here} and whoever should ring are registered; then compare {where}who rings for that number,"
            f" {hours}"
        )
    return (
        f"compare {where}who rings for that number, {hours}; and which call number is entered at whoever rang instead"
    )


def _took(statements: list[str]) -> list[str]:
    return [one for one in statements if one.endswith(TOOK)]


def _doors(statements: list[str]) -> list[str]:
    return [one for one in statements if one not in (SEEN, ONE_WAY)]


def _router(walk: Walk, unit: Unit) -> str:
    """Return the name of what routes the calls of a call unit: what it registers with, else itself."""
    registrar = registrar_of(walk, unit)
    return registrar.label if registrar is not None else unit.label
