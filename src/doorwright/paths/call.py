"""What becomes of a call: a small tree of whom it rings, and where it goes when nobody takes it."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from doorwright.model.calling import DivertCause


class TargetKind(StrEnum):
    """Who a call can come to."""

    CALLED = "the dwelling called"
    DWELLING = "another dwelling"
    DESK = "a desk"


@dataclass(frozen=True, slots=True, order=True)
class Target:
    """Somebody a call comes to. The dwelling that the visitor called has no identifier: many share its path."""

    kind: TargetKind
    id: str = ""


CALLED: Final = Target(TargetKind.CALLED)


class End(StrEnum):
    """What a call comes to at a target, before any next stage."""

    RINGS = "rings"
    SILENT = "the entrance lets no call through"
    NOBODY = "it is sent to nobody"
    LOOP = "it is sent round in a loop"
    TOO_OFTEN = "it is sent on too often"
    UNHEARD = "no receiver is registered"


@dataclass(frozen=True, slots=True)
class Stage:
    """Ringing at once: all receivers of a target (``nth`` None), or its nth in ringing order, counted from 0."""

    nth: int | None
    ring_s: int


@dataclass(frozen=True, slots=True)
class Call:
    """A call at one point of its way: what happens there, and the next call where nobody takes this one.

    ``chain`` names whom a loop leads through, the one that it comes back to first and last.
    """

    end: End
    target: Target | None = None
    stages: tuple[Stage, ...] = ()
    no_answer: "Call | None" = None
    busy: "Call | None" = None
    not_registered: "Call | None" = None
    chain: tuple[Target, ...] = ()

    @property
    def rings_s(self) -> int:
        """How long it rings here, until nobody answers."""
        return sum(stage.ring_s for stage in self.stages)

    @property
    def branches(self) -> tuple[tuple[DivertCause, "Call"], ...]:
        """The next calls, by cause."""
        branches = (
            (DivertCause.NO_ANSWER, self.no_answer),
            (DivertCause.BUSY, self.busy),
            (DivertCause.NOT_REGISTERED, self.not_registered),
        )
        return tuple((cause, call) for cause, call in branches if call is not None)

    def walk(self) -> Iterator["Call"]:
        """Yield this call and all that may follow it."""
        yield self
        for _, call in self.branches:
            yield from call.walk()

    @property
    def first_rung(self) -> Target | None:
        """Who rings first while everything that is registered works, or None where nobody does."""
        if self.end is End.RINGS:
            return self.target
        if self.end is End.UNHEARD and self.not_registered is not None:
            return self.not_registered.first_rung
        return None

    @property
    def answerers(self) -> tuple[Target, ...]:
        """Everybody who may come to answer, in the order in which they are met."""
        return tuple(dict.fromkeys(call.target for call in self.walk() if call.target and call.end is End.RINGS))


@dataclass(frozen=True, slots=True)
class Free:
    """The doors of the calling entrance that somebody who answers may free."""

    target: Target
    doors: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Behaviour:
    """What a call does at a moment, and who may then free what."""

    call: Call
    frees: tuple[Free, ...] = ()
