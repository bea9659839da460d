"""News for open pages: what happened to a book or a job, as server-sent events."""

import asyncio
from collections import defaultdict
from collections.abc import AsyncIterator, Callable, Mapping
from typing import Any, Final, TypeAlias

from pydantic_core import to_json
from starlette.concurrency import run_in_threadpool

_QUEUE_MOST: Final = 256
_BEAT_S: Final = 20.0
"""So often a silent stream says that it is still there, or a dead link would never be noticed."""


News: TypeAlias = tuple[str, Mapping[str, Any]]
"""An event and its facts."""


class Bulletin:
    """Hands news to every page that listens to its topic. Any thread may tell; pages listen on the loop."""

    def __init__(self) -> None:
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ended = False
        self._listeners: defaultdict[str, set[asyncio.Queue[bytes]]] = defaultdict(set)

    def start(self) -> None:
        """Take the running loop as the one on which pages listen."""
        self._loop = asyncio.get_running_loop()

    def tell(self, topic: str, event: str, **facts: Any) -> None:
        """Tell every page that listens to a topic. Nothing is kept: a page that comes later reads the state itself."""
        if self._loop is None or self._loop.is_closed():
            return
        self._loop.call_soon_threadsafe(self._hand_out, topic, _lines(event, facts))

    def _hand_out(self, topic: str, said: bytes) -> None:
        for queue in self._listeners.get(topic, ()):
            if queue.full():
                queue.get_nowait()  # a page that reads slowly misses the oldest; each event stands for itself
            queue.put_nowait(said)

    def close(self) -> None:
        """End every stream: the server is about to stop, and would wait for them."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._end_all)

    def _end_all(self) -> None:
        self._ended = True
        for queues in self._listeners.values():
            for queue in queues:
                if queue.full():
                    queue.get_nowait()
                queue.put_nowait(b"")

    async def listen(self, topic: str, known: Callable[[], News | None] | None = None) -> AsyncIterator[bytes]:
        """Yield what is told on a topic as the lines of an event stream, until the page goes away.

        ``known`` is asked once, when nothing told can be missed any more, for what the page could not know yet.
        """
        queue: asyncio.Queue[bytes] = asyncio.Queue(_QUEUE_MOST)
        self._listeners[topic].add(queue)
        try:
            yield b"retry: 2000\n\n"
            if known is not None and (news := await run_in_threadpool(known)) is not None:
                yield _lines(*news)
            while not self._ended:
                try:
                    said = await asyncio.wait_for(queue.get(), _BEAT_S)
                except TimeoutError:
                    said = b": still here\n\n"
                if said:
                    yield said
        finally:
            self._listeners[topic].discard(queue)
            if not self._listeners[topic]:
                del self._listeners[topic]


def _lines(event: str, facts: Mapping[str, Any]) -> bytes:
    return b"event: " + event.encode() + b"\ndata: " + to_json(facts) + b"\n\n"
