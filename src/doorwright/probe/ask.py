"""All that one part of the plan is asked, one ask after the other, each in its turn."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from doorwright.probe.echo import Echo
from doorwright.probe.heard import Heard, Reply
from doorwright.probe.neighbours import Neighbourhood
from doorwright.probe.reach import Outcome, ping
from doorwright.probe.rtsp import Rtsp, ask_rtsp
from doorwright.probe.runner import ASKS_PER_S, AT_ONCE_COUNT, Pace, wait_turn
from doorwright.probe.sip import Sip, ask_options
from doorwright.probe.target import Ports, Target
from doorwright.probe.web import Web, ask_web

_TABLE_HOLDS_S: Final = 1.0
"""How old the table of neighbours may be that is looked at before a part is asked."""
_BETTER: Final = (Outcome.ANSWERED, Outcome.REFUSED, Outcome.SILENT, Outcome.NO_WAY)


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How is asked: how many asks a second, of how many parts at once, at which ports, with how much patience.

    ``sip_patience_s`` leaves room for the request and three repetitions (after 0.5, 1.5 and 3.5 s, RFC 3261 §17.1.2.2).
    """

    asks_per_s: float = ASKS_PER_S
    at_once_count: int = AT_ONCE_COUNT
    patience_s: float = 2.0
    sip_patience_s: float = 5.0
    ports: Ports = field(default_factory=Ports)
    pings: bool = True


class Asker:
    """Asks parts of the plan; all that it sends goes through one pace."""

    def __init__(
        self,
        manner: Manner,
        neighbourhood: Neighbourhood,
        *,
        now: Callable[[], datetime],
        chance: Callable[[int], bytes],
    ) -> None:
        self._manner = manner
        self._neighbourhood = neighbourhood
        self._now = now
        self._chance = chance
        self._pace = Pace(manner.asks_per_s)
        self._echo = Echo(chance)

    async def ask(self, target: Target) -> Heard:
        """Ask one part all that its ports allow, and return what was heard."""
        before = await self._neighbourhood.look(target.address, at_most_s=_TABLE_HOLDS_S)
        pinged = await self._ping(target)
        sip = await self._sip(target)
        secure = await self._web(target, target.ports.https, tls=True)
        plain = await self._web(target, target.ports.http, tls=False)
        rtsp = await self._rtsp(target)
        after = await self._neighbourhood.look(target.address)

        outcomes = {one.outcome for one in (sip, secure, plain, rtsp) if one is not None}
        is_there: bool | None = True
        if not pinged and outcomes.isdisjoint({Outcome.ANSWERED, Outcome.REFUSED}) and not (after and after.is_fresh):
            is_there = False if pinged is False or Outcome.SILENT in outcomes else None
        macs = {before.mac} if before and before.is_fresh else set()
        if after and (is_there or after.is_fresh):
            macs.add(after.mac)
        web = _better(secure, plain)
        return Heard(
            target=target,
            at=self._now(),
            is_there=is_there,
            pinged=pinged,
            sip=Reply(outcome=sip.outcome, code=sip.code) if sip else None,
            web=Reply(outcome=web.outcome, code=web.status) if web else None,
            rtsp=Reply(outcome=rtsp.outcome, code=rtsp.status) if rtsp else None,
            valid=secure.valid if secure else None,
            ahead_s=next((one.ahead_s for one in (secure, plain, sip, rtsp) if one and one.ahead_s is not None), None),
            macs=tuple(sorted(macs)),
        )

    async def turn(self) -> None:
        """Wait until one more may be sent."""
        await wait_turn(self._pace)

    async def _ping(self, target: Target) -> bool | None:
        if not self._manner.pings:
            return None
        await self.turn()
        echoed = await self._echo.ask(target.address, patience_s=self._manner.patience_s)
        return await ping(target.address, patience_s=self._manner.patience_s) if echoed is None else echoed

    async def _sip(self, target: Target) -> Sip | None:
        if target.ports.sip is None:
            return None
        return await ask_options(
            target.address,
            target.ports.sip,
            patience_s=self._manner.sip_patience_s,
            now=self._now,
            chance=self._chance,
            turn=self.turn,
        )

    async def _web(self, target: Target, port: int | None, *, tls: bool) -> Web | None:
        if port is None:
            return None
        await self.turn()
        return await ask_web(target.address, port, tls=tls, patience_s=self._manner.patience_s, now=self._now)

    async def _rtsp(self, target: Target) -> Rtsp | None:
        if target.ports.rtsp is None:
            return None
        await self.turn()
        return await ask_rtsp(target.address, target.ports.rtsp, patience_s=self._manner.patience_s, now=self._now)


def _better(one: Web | None, other: Web | None) -> Web | None:
    """Return the answer that says more: a status before none, an answer before silence."""
    there = [web for web in (one, other) if web is not None]
    return min(there, key=lambda web: (web.status is None, _BETTER.index(web.outcome)), default=None)
