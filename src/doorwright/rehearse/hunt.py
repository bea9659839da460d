"""Looking for somebody who takes a call: diverts, ringing stage after stage, and who is busy, silent or not there.

This is the call control of whatever routes calls: the server, the first call unit of a group, a dwelling's first
receiver. It knows only what was entered in its own box, and hears only what comes back over the wire; the call-path
proof is not asked.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Final, Protocol

from doorwright.model.calling import DivertCause
from doorwright.rehearse.box import Box, Ringing

SENT_ON_MOST: Final = 5
"""How often a box sends one call on (docs/explain/call-paths.md)."""
NOT_FOUND: Final = 404
GONE_AWAY: Final = 480  # temporarily unavailable: nobody answered
LOOPED: Final = 482
TOO_MANY_HOPS: Final = 483
BUSY: Final = 486
NOT_ACCEPTABLE: Final = 488  # nothing in the session description is shared (RFC 3261 §21.4.26)


class Came(Enum):
    """What became of ringing one user."""

    SILENT = "nobody answered"
    BUSY = "busy"
    ABSENT = "not registered"
    UNSUITED = "shares no codec"


class Caller(Protocol):
    """Whoever wants the call: a visitor at this very unit, or a call that came over the wire."""

    def hear_ringing(self) -> None:
        """It rings somewhere."""

    def take_answer(self, answer: bytes) -> None:
        """Somebody took the call, and says this of the speech."""

    def take_refusal(self, code: int) -> None:
        """Nobody took it."""


class Ringer(Protocol):
    """What a box can do for a hunt."""

    box: Box

    def ring(self, hunt: "Hunt", user: str) -> int:
        """Ring a user ("": whoever is at this box) and return how many bells that began; 0: not registered."""

    def stop_ringing(self, hunt: "Hunt") -> None:
        """End everything that rings for this hunt and was not taken."""

    def after(self, delay_s: float, act: Callable[[], None]) -> None:
        """Arrange that something happens later."""

    def inside(self, timetable: str) -> bool:
        """Say whether this box's own clock is inside a timetable."""


@dataclass(slots=True)
class _Stage:
    """Ringing that is on: how many bells still ring, and what became of the others."""

    bells_count: int
    came: list[Came]


class Hunt:
    """One call and where it has been."""

    def __init__(self, ringer: Ringer, caller: Caller, *, number: str, entrance: str | None, offer: bytes) -> None:
        """Prepare; ``entrance`` is where the visitor stands, if this box knows it."""
        self._ringer = ringer
        self.caller = caller
        self.offer = offer
        self._entrance = entrance
        self._way: list[str] = []
        self._number = number
        self._left: list[Ringing] = []
        self._came: list[Came] = []
        self._stage: _Stage | None = None
        self.over = False
        self.taken: int | None = None

    def begin(self) -> None:
        """Look for somebody."""
        self._come_to(self._number)

    # what bells tell

    def rings(self) -> None:
        """A bell rings."""
        if not self.over:
            self.caller.hear_ringing()

    def bell_ended(self, came: Came) -> None:
        """A bell came to nothing."""
        stage = self._stage
        if self.over or stage is None:
            return
        stage.bells_count -= 1
        stage.came.append(came)
        if stage.bells_count <= 0:
            self._end_stage()

    def take(self, answer: bytes) -> None:
        """Somebody took the call: the others stop ringing."""
        if not self.over:
            self.over = True
            self._ringer.stop_ringing(self)
            self.caller.take_answer(answer)

    def give_up(self) -> None:
        """The caller went away."""
        if not self.over:
            self.over = True
            self._ringer.stop_ringing(self)

    # the way of the call

    def _refuse(self, code: int) -> None:
        self.over = True
        self.caller.take_refusal(code)

    def _come_to(self, number: str | None) -> None:
        if number is None:
            self._refuse(NOT_FOUND)
        elif number in self._way:
            self._refuse(LOOPED)
        elif len(self._way) > SENT_ON_MOST:
            self._refuse(TOO_MANY_HOPS)
        else:
            self._way.append(number)
            always = self._sending(DivertCause.ALWAYS)
            stages = self._ringer.box.ringing.get(number)
            if always is not None:
                self._come_to(always[0])
            elif stages is None:
                self._refuse(NOT_FOUND)
            else:
                self._left, self._came = list(stages), []
                self._next_stage()

    def _sending(self, cause: DivertCause) -> tuple[str | None] | None:
        """Return where calls to the number reached go for this cause, in a tuple, or None where they stay."""
        for line in self._ringer.box.sending.get(self._way[-1], ()):
            here = line.entrance is None or line.entrance == self._entrance
            if line.cause is cause and here and (line.timetable is None or self._ringer.inside(line.timetable)):
                return (line.to,)
        return None

    def _next_stage(self) -> None:
        if not self._left:
            self._nobody_took_it()
            return
        ringing = self._left.pop(0)
        stage = self._stage = _Stage(0, [])
        for user in ringing.users:
            bells_count = self._ringer.ring(self, user)
            stage.bells_count += bells_count
            if bells_count == 0:
                stage.came.append(Came.ABSENT)
        if stage.bells_count == 0:
            self._end_stage()
        elif ringing.limit_s is not None:
            self._ringer.after(ringing.limit_s, lambda: self._time_is_over(stage))

    def _time_is_over(self, stage: _Stage) -> None:
        if stage is self._stage and not self.over:
            self._ringer.stop_ringing(self)
            stage.came.append(Came.SILENT)
            self._end_stage()

    def _end_stage(self) -> None:
        stage, self._stage = self._stage, None
        self._came += stage.came if stage is not None else []
        self._next_stage()

    def _nobody_took_it(self) -> None:
        met = set(self._came) - {Came.ABSENT}
        if not met:
            cause, code = DivertCause.NOT_REGISTERED, GONE_AWAY
        elif met == {Came.BUSY}:
            cause, code = DivertCause.BUSY, BUSY
        elif met == {Came.UNSUITED}:
            cause, code = DivertCause.NO_ANSWER, NOT_ACCEPTABLE
        else:
            cause, code = DivertCause.NO_ANSWER, GONE_AWAY
        onward = self._sending(cause)
        if onward is None:
            self._refuse(code)
        else:
            self._come_to(onward[0])
