"""One of our endpoints on a loopback socket, for tests with programs written by others."""

import asyncio
import os
import socket
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from doorwright.line.driver import Driver
from doorwright.line.udp import Address
from doorwright.sip.digest import Account
from doorwright.sip.events import Happening, Progress
from doorwright.sip.formats import EVENTS, STATIC, Codec
from doorwright.sip.offer import Stream, make_answer, make_offer
from doorwright.sip.sdp import Connection, Origin, parse_description
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.timers import Times
from doorwright.sip.uri import SipUri

PATIENCE_S = 20.0
"""How long a party waits for what must come; nothing that works takes a tenth of it."""
CODECS = (STATIC[0], Codec(encoding=EVENTS, clock_hz=8000, parameters="0-15"))
"""PCMU (RFC 3551 table 4) and the events of keys (RFC 4733)."""

Arguments = ParamSpec("Arguments")
Result = TypeVar("Result")
Event = TypeVar("Event")


def on_a_loop(test: Callable[Arguments, Awaitable[None]]) -> Callable[Arguments, None]:
    """Run a test that waits for others; it may take a minute at the very most."""

    @wraps(test)
    def run(*args: Arguments.args, **kwargs: Arguments.kwargs) -> None:
        async def within_a_minute() -> None:
            async with asyncio.timeout(60):
                await test(*args, **kwargs)

        asyncio.run(within_a_minute())

    return run


def free_port(host: str) -> int:
    """Return a port that is free at this address for UDP and for TCP."""
    while True:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as udp, socket.socket() as tcp:
            udp.bind((host, 0))
            try:
                tcp.bind(udp.getsockname())
            except OSError:
                continue
            return int(udp.getsockname()[1])


class Party:
    """An endpoint, its socket, and what it told in order."""

    def __init__(self, endpoint: Endpoint, address: Address) -> None:
        self.endpoint = endpoint
        self.address = address
        self._told: asyncio.Queue[Happening] = asyncio.Queue()
        self._driver = Driver(endpoint, happened=self._hear)

    @property
    def target(self) -> str:
        """Where it is called directly."""
        return f"sip:party@{self.address[0]}:{self.address[1]}"

    def act(self, action: Callable[..., Result], *args: Any, **kwargs: Any) -> Result:
        """Do something with the endpoint, now, and send what comes of it."""
        result = action(*args, now_s=self._driver.now_s, **kwargs)
        self._hear()
        self._driver.settle()
        return result

    async def hears(self, kind: type[Event], *, passing: tuple[type, ...] = (Progress,)) -> Event:
        """Return what it tells next, which must be of this kind; what is of the kinds `passing` may come before."""
        async with asyncio.timeout(PATIENCE_S):
            while True:
                told = await self._told.get()
                if isinstance(told, kind):
                    return told
                assert isinstance(told, passing), told

    def heard_nothing(self) -> bool:
        """Whether it has told nothing that was not asked for yet."""
        return self._told.empty()

    def offer(self, *, port: int = 6000) -> bytes:
        """Return an offer of speech with keys."""
        host = self.address[0]
        return bytes(make_offer([_stream(port)], origin=_origin(host), connection=Connection(address=host)))

    def answer(self, offer: bytes, *, port: int = 6000) -> bytes:
        """Return an answer to an offer of speech."""
        host = self.address[0]
        return bytes(
            make_answer(
                parse_description(offer), [_stream(port)], origin=_origin(host), connection=Connection(address=host)
            )
        )

    async def begin(self) -> None:
        """Listen."""
        await self._driver.begin(self.address)

    def close(self) -> None:
        """Leave the line."""
        self._driver.close()

    def _hear(self) -> None:
        while (told := self.endpoint.next_event()) is not None:
            self._told.put_nowait(told)


def _origin(host: str) -> Origin:
    return Origin(username="-", session=1, version=1, address=host)


def _stream(port: int) -> Stream:
    return Stream(kind="audio", port=port, codecs=CODECS)


@asynccontextmanager
async def party(
    *, user: str = "party", host: str = "127.0.0.1", domain: str = "", secret: str = "", times: Times | None = None
) -> AsyncIterator[Party]:
    """Put an endpoint on a port of this address; with a domain and a secret it has an account there."""
    address = (host, free_port(host))
    identity = Identity(
        uri=SipUri(user=user, host=domain or host, port=None if domain else address[1]), address=address
    )
    accounts = [Account(username=user, password=secret)] if secret else []
    made = Party(Endpoint(identity, chance=os.urandom, accounts=accounts, times=times), address)
    await made.begin()
    try:
        yield made
    finally:
        made.close()
