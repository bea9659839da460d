"""Who rings when: for each entrance and group of dwellings, what calls do, at which hours, and who may free what."""

from typing import Any

from doorwright.model.place import Entrance
from doorwright.model.walk import Walk
from doorwright.paths.proof import EntranceProof, Group, Proof
from doorwright.paths.telling import labels_of, tell_call, tell_frees, tell_spans
from doorwright.render.pdf.papers.paper import Paper


def weeks(walk: Walk, proof: Proof) -> Paper | None:
    """Return the table of who rings when, or None where no entrance serves anybody."""
    entrances = [_entrance(walk, at) for at in proof.entrances.values() if at.groups]
    if not entrances:
        return None
    return {
        "kind": "weeks",
        "title": "Who rings when",
        "purpose": "what calls do at which hours, from each entrance to each group of dwellings, and who may free what",
        "zone": walk.settings().time_zone or "",
        "entrances": entrances,
    }


def _entrance(walk: Walk, at: EntranceProof) -> dict[str, Any]:
    return {
        "name": walk.get(Entrance, at.entrance).name,
        "silent": tell_spans(at.silent),
        "trade": tell_spans(at.trade),
        "groups": [_group(walk, group) for group in at.groups],
    }


def _group(walk: Walk, group: Group) -> dict[str, Any]:
    return {
        "count": group.dwellings_count,
        "dwellings": labels_of(walk, group.dwellings),
        "rows": [
            {
                "when": tell_spans(group.when([behaviour])),
                "call": tell_call(walk, behaviour.call),
                "frees": tell_frees(walk, behaviour),
            }
            for behaviour in group.behaviours
        ],
    }
