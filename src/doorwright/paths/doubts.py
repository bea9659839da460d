"""What a proof finds that does not hold, in words: each thing once, with all entrances and dwellings concerned."""

from collections.abc import Callable, Collection, Iterable, Sequence
from typing import Final, TypeAlias, TypeVar

from doorwright.model.door import Door
from doorwright.model.naming import named
from doorwright.model.place import Entrance
from doorwright.model.walk import Walk
from doorwright.paths.proof import Proof, Round, Unreached
from doorwright.paths.telling import labels_of, named_desk, tell_spans, tell_target

Concerns: TypeAlias = Callable[[tuple[str, ...], str | None], bool]
"""Whether dwellings, or a desk, are asked about."""
_Found = TypeVar("_Found", bound=Round | Unreached)

_NAMES_COUNT: Final = 6


def doubts(walk: Walk, proof: Proof, *, entrances: Collection[str], concerns: Concerns) -> tuple[str, ...]:
    """Return what the proof finds wrong, a line for each thing.

    Args:
        walk: the site.
        proof: its call paths.
        entrances: the entrances that are asked about.
        concerns: the dwellings and desks that are asked about.
    """
    rounds = [one for one in proof.rounds if one.entrance in entrances and concerns(one.dwellings, one.desk)]
    unreached = [one for one in proof.unreached if one.entrance in entrances and concerns(one.dwellings, one.desk)]
    told = [
        f"calls {which}: {one.end.value} ({', '.join(tell_target(walk, target) for target in one.chain)}),"
        f" {tell_spans(one.spans)}"
        for one, which in _together(walk, rounds, lambda each: (each.end, each.chain, each.spans))
    ]
    told += [
        f"calls {which} ring nobody {tell_spans(one.spans) if one.ever else 'ever'}"
        for one, which in _together(walk, unreached, lambda each: (each.spans, each.ever))
    ]
    doors = [walk.get(Door, ident) for ident in proof.freed_by_nobody]
    told += [f"nobody who answers may free {named(walk, door)}" for door in doors if door.entrance in entrances]
    holders: dict[str, list[str]] = {}
    for ident, target in proof.freed_by_strangers:
        if walk.get(Door, ident).entrance in entrances:
            holders.setdefault(ident, []).append(tell_target(walk, target))
    told += [
        f"{_some(who)} may free {named(walk, walk.get(Door, ident))}, whose entrance does not serve"
        f" {'it' if len(who) == 1 else 'them'}"
        for ident, who in holders.items()
    ]
    return tuple(told)


def _together(
    walk: Walk, found: Iterable[_Found], alike: Callable[[_Found], tuple[object, ...]]
) -> list[tuple[_Found, str]]:
    """Return one of those that are alike, and in words from where to whom they all are.

    First the dwellings of one entrance are drawn together, then the entrances with the same dwellings.
    """
    at_entrance: dict[tuple[object, ...], list[_Found]] = {}
    for one in found:
        at_entrance.setdefault((one.entrance, one.desk, *alike(one)), []).append(one)
    everywhere: dict[tuple[frozenset[str], tuple[object, ...]], list[_Found]] = {}
    for ones in at_entrance.values():
        homes = frozenset(ident for each in ones for ident in each.dwellings)
        everywhere.setdefault((homes, (ones[0].desk, *alike(ones[0]))), []).append(ones[0])
    told = []
    for (dwellings, _), group in everywhere.items():
        names = _some([walk.get(Entrance, ident).name for ident in dict.fromkeys(each.entrance for each in group)])
        desk = group[0].desk
        to = f"desk {named_desk(walk, desk)}" if desk is not None else labels_of(walk, dwellings)
        told.append((group[0], f"from {names} to {to}"))
    return told


def _some(names: Sequence[str]) -> str:
    more = len(names) - _NAMES_COUNT
    return ", ".join(names[:_NAMES_COUNT]) + (f" and {more} more" if more > 0 else "")
