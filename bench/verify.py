"""Claim: reaching 4 000 addresses takes at most 1.5 times what fping takes at the same rate; nmap -sn beside it.

``python -m bench.verify`` measures it; so does ``python -m bench`` with the others. The addresses are this machine's
own (127.1.0.0/16), so that all answer at once and the rate alone sets the time. Reaching is all that `verify` does of
each part where every other protocol is left out: the table of neighbours before and after, and an echo request.

nmap connects instead: by echoes it takes a machine's own addresses as there without asking them.
"""

import asyncio
import secrets
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from typing import Final

from bench.claim import Costs, Figure
from doorwright.kernel.verdict import Subject
from doorwright.model.unit import Unit
from doorwright.probe.ask import Asker, Manner
from doorwright.probe.echo import open_socket
from doorwright.probe.heard import Heard
from doorwright.probe.neighbours import Neighbourhood
from doorwright.probe.runner import run
from doorwright.probe.target import Ports, Target

NAME: Final = "reaching addresses, beside fping and nmap -sn at the same rate"
ADDRESSES_COUNT: Final = 4_000
ASKS_PER_S: Final = 1_000
RUNS_COUNT: Final = 3
GOAL_RATIO: Final = 1.5
_NOTHING_ELSE: Final = Ports(http=None, https=None, rtsp=None, sip=None)


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:  # noqa: ARG001  (measured here: one size alone)
    """Yield our time and the others', or what is missing for it."""
    if not _answers("127.1.0.1") or open_socket(4) is None:
        yield Figure(NAME, "not measured: no loopback net, or no socket for echoes", float("nan"))
        return
    addresses = [f"127.1.{number // 250}.{number % 250 + 1}" for number in range(ADDRESSES_COUNT)]
    ours_s = median(_ours_s(addresses) for _ in range(RUNS_COUNT))
    yield Figure(NAME, f"ours, {ADDRESSES_COUNT} addresses at {ASKS_PER_S} a second, seconds", ours_s)
    with tempfile.TemporaryDirectory() as folder:
        listed = Path(folder) / "addresses.txt"
        listed.write_text("\n".join(addresses) + "\n", encoding="ascii")
        gap_ms = f"{1000 / ASKS_PER_S:g}"
        for name, goal, command in (
            ("fping", GOAL_RATIO, ("-q", "-r", "0", "-t", "2000", "-i", gap_ms, "-f", str(listed))),
            ("nmap", None, ("-sn", "-n", "--unprivileged", "-PS80", "--max-rate", str(ASKS_PER_S), "-iL", str(listed))),
        ):
            program = shutil.which(name)
            if program is None:
                yield Figure(NAME, f"{name}: not installed, nothing to compare with", float("nan"))
                continue
            theirs_s = median(_took_s((program, *command)) for _ in range(RUNS_COUNT))
            yield Figure(NAME, f"{name}, seconds", theirs_s)
            yield Figure(NAME, f"ours, times {name}", ours_s / theirs_s, goal)


def _answers(address: str) -> bool:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        try:
            one.bind((address, 0))
        except OSError:
            return False
    return True


def _ours_s(addresses: Sequence[str]) -> float:
    targets = [
        Target(subject=Subject(Unit.KIND, address), name=address, address=address, ports=_NOTHING_ELSE)
        for address in addresses
    ]
    manner = Manner(asks_per_s=ASKS_PER_S, ports=_NOTHING_ELSE)
    heard: list[Heard] = []
    begin_s = time.perf_counter()
    asker = Asker(
        manner, Neighbourhood(frozenset(addresses)), now=lambda: datetime.now(UTC), chance=secrets.token_bytes
    )
    asyncio.run(run(targets, asker.ask, heard.append, at_once_count=manner.at_once_count))
    took_s = time.perf_counter() - begin_s
    if not all(one.pinged for one in heard):
        raise RuntimeError("not every loopback address answered: this is no measurement")
    return took_s


def _took_s(command: Sequence[str]) -> float:
    begin_s = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)
    return time.perf_counter() - begin_s


if __name__ == "__main__":
    for figure in figures({}, ()):
        print(f"{figure.measured:8.2f}  {figure.what}")
