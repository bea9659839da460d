"""Room for many sockets: a system counts them among the files that a process may have open."""

import sys
from typing import Final

from doorwright.kernel.errors import Refused

SPARE_COUNT: Final = 256
"""For whoever asks the building, and for what this process has open anyhow."""


def make_room(sockets_count: int) -> None:
    """Raise how many files this process may have open, as far as the system lets it.

    Raises:
        Refused: it does not let it have so many.
    """
    if sys.platform == "win32":  # it counts no sockets
        return
    import resource  # noqa: PLC0415  (not on every system)

    needed_count = sockets_count + SPARE_COUNT
    soft_count, hard_count = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft_count == resource.RLIM_INFINITY or soft_count >= needed_count:
        return
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (needed_count, hard_count))
    except (ValueError, OSError):
        raise Refused(
            f"this building needs {needed_count} open files, and this system lets a program have {hard_count}",
            remedy=f"Let it have more (on Linux and macOS: ulimit -Hn {needed_count}), or leave parts out.",
        ) from None
