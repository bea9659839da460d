"""How fast our endpoint places calls to sipp cleanly, beside how fast sipp does: told, without a goal.

A call is INVITE, ringing, 200, ACK, BYE and 200, without speech. sipp is called in both cases, in a process of its own;
`bench.sip_load` says what a clean rate is. Ours is `doorwright.sip.stack` in pure Python on `doorwright.line`, in one
process that begins the calls of each 2 ms together. What it sends beyond three messages a call was sent again.

``python -m bench.sip_calls`` measures it alone.
"""

import asyncio
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final

from bench.claim import Costs, Figure
from bench.sip_load import (
    HOST,
    ROOM_BYTES,
    SCENARIOS,
    SIPP,
    TOP,
    TRIAL_S,
    Trial,
    clean_rate,
    free_port,
    running,
    sipp_trial,
    workshop,
)
from doorwright.cli.main import collect_seldom
from doorwright.line.driver import Driver
from doorwright.line.udp import Address
from doorwright.sip.events import Answered, Ended, Refused
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri

NAME: Final = "calls, to sipp: sipp's clean rate over ours"
_TICK_S: Final = 0.002
_PATIENCE_S: Final = 10.0
_MESSAGES_COUNT: Final = 3  # INVITE, ACK and BYE
_OFFER: Final = (
    f"v=0\r\no=- 1 1 IN IP4 {HOST}\r\ns=-\r\nc=IN IP4 {HOST}\r\nt=0 0\r\nm=audio 6000 RTP/AVP 0\r\n"
).encode()


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:  # noqa: ARG001  (measured here: one load alone)
    """Yield the ratio of the clean rates, both rates, and the processor's time of a call of ours."""
    if SIPP is None:
        print(f"{NAME}: not measured, for sipp is not installed", file=sys.stderr)
        return
    with workshop() as folder:
        ours = clean_rate(lambda rate: _called(rate, folder, _by_ours))
        theirs = clean_rate(lambda rate: _called(rate, folder, _by_sipp))
    if ours is None or theirs is None:
        print(f"{NAME}: no rate was clean, for this machine has other work", file=sys.stderr)
        return
    yield Figure(NAME, "sipp over ours", theirs.rate / ours.rate)
    yield Figure(NAME, "  thousand calls a second, ours", ours.rate / 1000)
    yield Figure(NAME, "  thousand calls a second, sipp", theirs.rate / 1000)
    yield Figure(NAME, "  µs of the processor for one, ours", 1e6 * ours.server_busy_s / ours.calls_count)


def _called(rate: int, folder: Path, by: Callable[[int, int, Path], Trial]) -> Trial:
    """Let somebody call a fresh sipp."""
    port = free_port()
    command = [str(SIPP), "-sf", str(SCENARIOS / "called_answers.xml"), "-i", HOST, "-p", str(port), "-nostdin"]
    with running([*command, "-buff_size", str(ROOM_BYTES)], folder, ends_on=signal.SIGKILL):  # else it lingers
        time.sleep(0.5)  # it does not tell when it listens; what is sent again because of that would spoil the trial
        return by(rate, port, folder)


def _by_sipp(rate: int, port: int, folder: Path) -> Trial:
    return sipp_trial("caller_hangs_up", rate=rate, to_port=port, folder=folder)


def _by_ours(rate: int, port: int, folder: Path) -> Trial:  # noqa: ARG001  (it writes nothing)
    command = [sys.executable, "-m", "bench.sip_calls", "call", str(rate), str(port)]
    said = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True, timeout=90, cwd=TOP)
    return Trial(**json.loads(said.stdout))


class _Counted(Endpoint):
    """An endpoint that counts what it sends."""

    sent_count = 0

    def datagrams_to_send(self) -> list[tuple[bytes, Address]]:
        """What is to be sent."""
        told = super().datagrams_to_send()
        self.sent_count += len(told)
        return told


class _Caller:
    """Places calls at a rate, and hangs each up when it is answered."""

    def __init__(self, rate: int, peer: Address) -> None:
        self._rate = rate
        self._peer = peer
        address = (HOST, free_port())
        self._address = address
        self._endpoint = _Counted(
            Identity(uri=SipUri(user="caller", host=HOST, port=address[1]), address=address), chance=os.urandom
        )
        self._driver = Driver(self._endpoint, happened=self._hear)
        self._ended_count = self._failed_count = 0

    async def call(self) -> dict[str, float]:
        """Place the calls of one trial, and return its counts."""
        count = self._rate * TRIAL_S
        await self._driver.begin(self._address)
        begun_s, busy_s = self._driver.now_s, time.process_time()
        placed = 0
        while placed < count:
            due = min(count, round((self._driver.now_s - begun_s) * self._rate))
            for _ in range(due - placed):
                self._endpoint.invite(f"sip:party@{HOST}:{self._peer[1]}", now_s=self._driver.now_s, body=_OFFER)
            placed = max(due, placed)
            self._driver.settle()
            await asyncio.sleep(_TICK_S)
        patient_until_s = self._driver.now_s + _PATIENCE_S
        while self._ended_count + self._failed_count < count and self._driver.now_s < patient_until_s:
            await asyncio.sleep(_TICK_S)
        took_s = self._driver.now_s - begun_s
        self._driver.close()
        return {
            "rate": self._rate,
            "calls_count": count,
            "failed_count": count - self._ended_count,
            "again_count": max(0, self._endpoint.sent_count - _MESSAGES_COUNT * count),
            "took_s": took_s,
            "server_busy_s": time.process_time() - busy_s,
        }

    def _hear(self) -> None:
        while (event := self._endpoint.next_event()) is not None:
            match event:
                case Answered():
                    self._endpoint.bye(event.call, now_s=self._driver.now_s)
                case Refused():
                    self._failed_count += 1
                case Ended():
                    self._ended_count += 1


async def _call(rate: int, port: int) -> dict[str, float]:
    return await _Caller(rate, (HOST, port)).call()


if __name__ == "__main__":
    if sys.argv[1:2] == ["call"]:
        collect_seldom()
        print(json.dumps(asyncio.run(_call(int(sys.argv[2]), int(sys.argv[3])))))
    else:
        for figure in figures({}, ()):
            word = {None: "", True: "met", False: "not met"}[figure.met]
            print(f"{figure.what}: {figure.measured:.3f} {word}")
