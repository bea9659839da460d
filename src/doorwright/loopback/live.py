"""The building live on loopback sockets: it comes up, whoever calls is heard, and it is closed again."""

import asyncio
import errno
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from doorwright.kernel.errors import Refused
from doorwright.loopback.heads import serve_rtsp, serve_web
from doorwright.loopback.loop_time import LoopTime
from doorwright.loopback.moving_in import Tenant
from doorwright.loopback.open_files import make_room
from doorwright.loopback.wired import Wired
from doorwright.rehearse.actors import Actor, Mood, Stage
from doorwright.rehearse.box import Box, Role
from doorwright.rehearse.journal import Entry, Journal, Told
from doorwright.rehearse.wire import Net

_SOCKETS_MOST: Final = 6
"""Of one part: SIP, speech, reports on it, pictures, web, RTSP."""
BEGIN_PER_S: Final = 250.0
"""How many units begin to register in a second, so that registrars are not buried (our own choice)."""
_GRACE_S: Final = 1.0
"""What is still on its way when a visitor has gone."""
_MINUTE_S: Final = 60.0


class LiveBuilding:
    """All actors on sockets. `open` it, `power_up`, and `close` it whatever happens."""

    def __init__(
        self,
        tenants: Sequence[Tenant],
        nets: Sequence[Net],
        *,
        now: Callable[[], datetime],
        minute_of: Callable[[datetime], int],
        told: Told,
    ) -> None:
        """Build it; nothing is on yet.

        Args:
            tenants: the boxes at their places.
            nets: the subnets that the gateways know, as planned.
            now: this machine's clock, with a zone.
            minute_of: the minute of the axis of the week that the clock on the wall then shows.
            told: is told of all that happens.
        """
        self.time = LoopTime()
        self.wired = Wired(self.time, nets)
        self.journal = Journal(self._written)
        self._told = told
        self._now = now
        self._minute_of = minute_of
        self._tenants = {tenant.box.id: tenant for tenant in tenants}
        self._stage = Stage(self.time, self.wired, self.journal, relay_answers=self._relay_answers)
        self.actors = {tenant.box.id: Actor(tenant.box, self._stage) for tenant in tenants}
        self._heads: list[asyncio.Server] = []
        self._news = asyncio.Event()
        self._noting = False
        for ident, tenant in self._tenants.items():
            self.wired.plug(tenant, self.actors[ident])

    # up and down

    async def open(self) -> None:
        """Take all addresses and ports.

        Raises:
            Refused: one of them is taken, or this machine has it not, or lets nobody have so many.
        """
        linked = [tenant for tenant in self._tenants.values() if tenant.box.jack.link]
        make_room(_SOCKETS_MOST * len(linked))
        try:
            for tenant in linked:
                await self.wired.open(tenant, self.actors[tenant.box.id])
                await self._open_heads(tenant)
        except OSError as error:
            self.close()
            raise _refused(error) from error
        except BaseException:
            self.close()
            raise

    def power_up(self) -> None:
        """Switch everything on: registrars first, the others one after the other. Whoever is at home answers."""
        self._tick()
        later_s = 0.0
        for actor in self.actors.values():
            actor.mood = Mood.ANSWERS
            if not actor.box.admits:
                later_s += 1 / BEGIN_PER_S
            self.time.at(self.time.now_s + later_s * (not actor.box.admits), actor.begin)

    def close(self) -> None:
        """Give all addresses and ports back."""
        for one in self._heads:
            one.close()
        self._heads.clear()
        self.wired.close()

    # who is there

    def registering(self) -> tuple[Actor, ...]:
        """Return the actors that ought to register."""
        return tuple(actor for actor in self.actors.values() if actor.box.registers is not None)

    async def settled(self) -> None:
        """Wait until every unit that can ask its registrar was answered, or had no answer for half a minute."""
        await self._until(
            lambda: all(actor.answered_code is not None or not actor.box.jack.link for actor in self.registering())
        )

    async def visit(self, unit: str, number: str, *, moods: Mapping[str, Mood], at_most_s: float) -> list[Entry]:
        """Let somebody call a number at a call unit, and return what happened.

        Args:
            unit: the call unit.
            number: what they call.
            moods: what whoever is at each receiver does meanwhile; those not named let it ring.
            at_most_s: after which the visitor leaves.
        """
        for ident, actor in self.actors.items():
            actor.mood = moods.get(ident, Mood.LETS_RING)
        self.journal.empty()
        self._noting = True
        try:
            visitor = self.actors[unit].visit(number)
            try:
                async with asyncio.timeout(at_most_s):
                    await self._until(lambda: visitor.gone)
            except TimeoutError:
                visitor.leave()
            await asyncio.sleep(_GRACE_S)
        finally:
            self._noting = False
            for actor in self.actors.values():
                actor.mood = Mood.ANSWERS
        return self.journal.empty()

    # inside

    def _tick(self) -> None:
        """Let every clock show the minute, now and when the next begins."""
        now = self._now()
        self._stage.minute = self._minute_of(now)
        left_s = _MINUTE_S - now.second - now.microsecond / 1e6
        self.time.at(self.time.now_s + left_s, self._tick)

    def _written(self, entry: Entry) -> None:
        if not self._noting:
            self.journal.empty()
        self._told(entry)
        self._news.set()

    async def _until(self, done: Callable[[], bool]) -> None:
        while not done():
            self._news.clear()
            await self._news.wait()

    def _relay_answers(self, box: Box, unit: str) -> bool:
        one, other = self._tenants.get(box.id), self._tenants.get(unit)
        return one is not None and other is not None and self.wired.reaches(one.planned, other.planned)

    async def _open_heads(self, tenant: Tenant) -> None:
        box = tenant.box
        if box.role is Role.SERVER or not self.wired.meets_others(tenant.planned.jack):
            return
        late = timedelta(minutes=box.clock_late_min)
        for serve, port in ((serve_web, tenant.http_port), (serve_rtsp, tenant.rtsp_port)):
            if serve is serve_rtsp and box.role is not Role.VCU:
                continue
            try:
                self._heads.append(await serve(box.jack.address, port, lambda: self._now() - late))
            except OSError as error:
                raise OSError(error.errno, error.strerror, f"{box.jack.address}, TCP port {port}") from error


def _refused(error: OSError) -> Refused:
    if error.errno == errno.EADDRINUSE:
        return Refused(
            f"{error.filename} is taken by another program; nothing was begun",
            remedy="End that program (perhaps another rehearsal), or choose other ports: --sip-port, --media-port,"
            " --http-port, --rtsp-port.",
        )
    return Refused(
        f"{error.filename} cannot be had: {error.strerror}; nothing was begun",
        remedy="Loopback addresses (127.0.0.0/8) must be this machine's own.",
    )
