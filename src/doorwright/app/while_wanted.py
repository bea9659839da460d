"""Go on with something as long as somebody wants it: a page's way to stop what waits for answers."""

import asyncio
from collections.abc import Callable, Coroutine
from typing import Any, Final, TypeVar

T = TypeVar("T")

_EVERY_S: Final = 0.2


async def while_wanted(going_on: Coroutine[Any, Any, T], still_wanted: Callable[[], None]) -> T:
    """Return what comes of it. Where ``still_wanted`` raises, it is cancelled, clears up, and that is raised.

    Args:
        going_on: what is done.
        still_wanted: is asked a few times a second.
    """
    task = asyncio.ensure_future(going_on)
    try:
        while not task.done():
            await asyncio.wait({task}, timeout=_EVERY_S)
            still_wanted()
    finally:  # also where this is itself cancelled
        task.cancel()
        await asyncio.wait({task})
    return task.result()
