"""A call as a list: who rings from which second to which, and what must have happened before."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from doorwright.model.calling import DivertCause
from doorwright.paths.call import Call, End

Causes: TypeAlias = tuple[DivertCause, ...]
"""Causes any one of which leads on."""


@dataclass(frozen=True, slots=True)
class Step:
    """Ringing at one point of a call's way, or an end without any.

    ``start_s`` and ``end_s`` are seconds since the visitor called, the same where nothing rings. ``causes`` are what
    must have happened on the way, in order; none for where the call comes first. ``nth`` is the receiver that rings,
    counted from 0 in ringing order, or None where all ring together.
    """

    start_s: int
    end_s: int
    causes: tuple[Causes, ...]
    call: Call
    nth: int | None = None


def steps(call: Call) -> tuple[Step, ...]:
    """Return all that may follow a call, each branch behind what leads to it.

    A call that is busy or not registered goes on at once, one that nobody answers when the ringing ends.
    """
    return tuple(_steps(call, 0, ()))


def _steps(call: Call, start_s: int, causes: tuple[Causes, ...]) -> Iterator[Step]:
    at_s = start_s
    if call.end is not End.RINGS:
        yield Step(at_s, at_s, causes, call)
    for stage in call.stages:
        yield Step(at_s, at_s + stage.ring_s, causes, call, stage.nth)
        at_s += stage.ring_s
    branches: dict[tuple[Call, int], list[DivertCause]] = {}
    for cause, after in call.branches:
        later = cause is DivertCause.NO_ANSWER
        branches.setdefault((after, at_s if later else start_s), []).append(cause)
    for (after, after_s), alike in branches.items():
        yield from _steps(after, after_s, (*causes, tuple(alike)))
