"""Who rings when: what calls from each entrance do, to each group of dwellings and each desk, and who may free what."""

from typing import Any

from doorwright.kernel.words import counted
from doorwright.model.place import Entrance
from doorwright.model.walk import Walk
from doorwright.paths.proof import DeskCalls, EntranceProof, Group, Proof
from doorwright.paths.telling import named_desk, tell_call, tell_frees, tell_spans
from doorwright.render.pdf.papers.homes import dwellings_in_words
from doorwright.render.pdf.papers.paper import Paper


def weeks(walk: Walk, proof: Proof) -> Paper | None:
    """Return the table of who rings when, or None where no entrance serves anybody."""
    entrances = [_entrance(walk, at) for at in proof.entrances.values() if at.calls]
    if not entrances:
        return None
    return {
        "kind": "weeks",
        "title": "Who rings when",
        "purpose": "what calls from each entrance do at which hours, to dwellings and desks, and who may free what",
        "zone": walk.settings().time_zone or "",
        "entrances": entrances,
    }


def _entrance(walk: Walk, at: EntranceProof) -> dict[str, Any]:
    return {
        "name": walk.get(Entrance, at.entrance).name,
        "silent": tell_spans(at.silent),
        "trade": tell_spans(at.trade),
        "calls": [_calls(walk, calls) for calls in at.calls],
    }


def _calls(walk: Walk, calls: Group | DeskCalls) -> dict[str, Any]:
    return {
        "who": _who(walk, calls),
        "rows": [
            {
                "when": tell_spans(calls.when([behaviour])),
                "call": tell_call(walk, behaviour.call),
                "frees": tell_frees(walk, behaviour),
            }
            for behaviour in calls.heard
        ],
    }


def _who(walk: Walk, calls: Group | DeskCalls) -> str:
    if isinstance(calls, DeskCalls):
        return f"The desk {named_desk(walk, calls.desk)}, by its key or number"
    return f"{counted(calls.dwellings_count, 'dwelling')}: {dwellings_in_words(walk, calls.dwellings)}"
