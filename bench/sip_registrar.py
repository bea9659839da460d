"""Claim: our registrar takes at least half of the registrations a second that kamailio takes cleanly in the same run.

They meet twice: each as it comes, with the buffers that kamailio and sipp usually ask of the system, which is how
kamailio was once found to take 5 000 a second cleanly on two processors; and with buffers so wide that the processors
are the limit. Both have the goal. kamailio has its usual eight processes; what one of them takes is told beside it.

A registration is two REGISTERs: the first is challenged, the second proves an account with a digest (MD5, the only one
that sipp knows, quality auth, a new nonce each time), and is bound in memory. sipp is the load for both, one process
with a thousand users, and `bench.sip_load` says what a clean rate is. Ours is `doorwright.sip.server` in pure Python in
one process on `doorwright.line`; it also takes each nonce count once and remembers what it answered. kamailio is C, and
does not log here. All share the processors of this machine.

``python -m bench.sip_registrar`` measures it alone.
"""

import asyncio
import os
import shutil
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final

from bench.claim import Costs, Figure
from bench.sip_load import (
    HOST,
    NO_LOAD,
    ROOM_BYTES,
    SIPP,
    Trial,
    clean_rate,
    free_port,
    running,
    sipp_trial,
    until_answered,
    workshop,
)
from doorwright.cli.main import collect_seldom
from doorwright.line.driver import Driver
from doorwright.sip.digest import Account
from doorwright.sip.guard import Guard
from doorwright.sip.nonces import NonceBook
from doorwright.sip.registrar import Registrar
from doorwright.sip.server import Server

NAME: Final = "registrations with digest, under sipp: the clean rate"
GOAL_RATIO: Final = 2.0
REALM: Final = "doors.example"
USERS: Final = tuple(str(1000 + count) for count in range(1000))
SECRET: Final = "invented"  # noqa: S105
KAMAILIO: Final = shutil.which("kamailio", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
_OURS: Final = "ours"
_USUAL: Final = "kamailio"
_USUAL_CHILDREN_COUNT: Final = 8
_MOST_TRANSACTIONS: Final = 1_000_000

_CONFIGURATION: Final = """#!KAMAILIO
listen=udp:{host}:{port}
alias="{realm}"
auto_aliases=no
children={children}
debug=-2
dns=no
rev_dns=no
loadmodule "sl.so"
loadmodule "pv.so"
loadmodule "usrloc.so"
loadmodule "registrar.so"
loadmodule "auth.so"
modparam("usrloc", "db_mode", 0)
modparam("auth", "algorithm", "MD5")
modparam("auth", "nonce_expire", 300)
request_route {{
    if (method != "REGISTER") {{ sl_send_reply("405", "Method Not Allowed"); exit; }}
    if (!pv_www_authenticate("{realm}", "{secret}", "0")) {{ www_challenge("{realm}", "1"); exit; }}
    if (!save("location")) {{ sl_reply_error(); }}
}}
"""


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:  # noqa: ARG001  (measured here: one load alone)
    """Yield both rates, their ratio, and what a registration costs the processors, for each width of the buffers."""
    if SIPP is None or KAMAILIO is None:
        print(f"{NAME}: not measured, for sipp or kamailio is not installed", file=sys.stderr)
        return
    with workshop() as folder:
        (folder / "users.csv").write_text(
            "SEQUENTIAL\n" + "".join(f"{user};[authentication username={user} password={SECRET}]\n" for user in USERS),
            encoding="utf-8",
        )
        for wide in (False, True):
            yield from _compared(folder, wide=wide)


def _compared(folder: Path, *, wide: bool) -> Iterator[Figure]:
    buffers = "wide buffers" if wide else "usual buffers"
    found = {
        who: (clean_rate(attempt), attempt(0).server_busy_s) for who, attempt in _attempts(folder, wide=wide).items()
    }
    ours, _ = found[_OURS]
    if ours is None:
        print(f"{NAME}, {buffers}: no rate was clean, for this machine has other work", file=sys.stderr)
        return
    for who, (trial, idle_s) in found.items():
        if trial is None:
            continue
        told = f"{who}, {buffers}"
        if who != _OURS:
            goal = GOAL_RATIO if who == _USUAL else None
            yield Figure(NAME, f"{'' if goal else '  '}{told}, over ours", trial.rate / ours.rate, goal)
        yield Figure(NAME, f"  thousand a second: {told}", trial.rate / 1000)
        busy_us = 1e6 * (trial.server_busy_s - idle_s) / trial.calls_count
        yield Figure(NAME, f"  µs of processors for one: {told}", busy_us)


def _attempts(folder: Path, *, wide: bool) -> dict[str, Callable[[int], Trial]]:
    return {
        _OURS: lambda rate: _of_ours(rate, folder, wide=wide),
        _USUAL: lambda rate: _of_kamailio(rate, folder, children_count=_USUAL_CHILDREN_COUNT, wide=wide),
        "kamailio with one process": lambda rate: _of_kamailio(rate, folder, children_count=1, wide=wide),
    }


def _of_ours(rate: int, folder: Path, *, wide: bool) -> Trial:
    port = free_port()
    return _of([sys.executable, "-m", "bench.sip_registrar", "serve", str(port)], rate, port, folder, wide=wide)


def _of_kamailio(rate: int, folder: Path, *, children_count: int, wide: bool) -> Trial:
    port = free_port()
    told = _CONFIGURATION.format(host=HOST, port=port, realm=REALM, secret=SECRET, children=children_count)
    if wide:
        told = told.replace("\nchildren=", f"\nmaxbuffer={ROOM_BYTES}\nchildren=")
    (folder / "kamailio.cfg").write_text(told, encoding="utf-8")
    command = [str(KAMAILIO), "-f", str(folder / "kamailio.cfg"), "-DD", "-E", "-m", "512", "-M", "16"]
    command += ["-P", str(folder / "pid"), "-Y", str(folder), "-w", str(folder)]
    return _of(command, rate, port, folder, wide=wide)


def _of(command: list[str], rate: int, port: int, folder: Path, *, wide: bool) -> Trial:
    more = ("-inf", "users.csv", "-key", "realm", REALM, "-auth_uri", REALM)
    with running(command, folder) as server:
        until_answered(port)
        trial = NO_LOAD
        if rate:
            trial = sipp_trial("registers", rate=rate, to_port=port, folder=folder, more=more, wide=wide)
    return trial.with_busy(server.busy_s)


async def _serve(port: int) -> None:
    book = NonceBook(realm=REALM, key=os.urandom(32), algorithms=("MD5",))
    guard = Guard([Account(username=user, password=SECRET) for user in USERS], book=book, chance=os.urandom)
    registrar = Registrar(domains=(REALM, HOST), users=USERS, port=port, guard=guard)
    address = (HOST, port)
    server = Server(registrar, address=address, chance=os.urandom, most_transactions=_MOST_TRANSACTIONS)

    def pass_over() -> None:
        while server.next_event() is not None:
            pass

    driver = Driver(server, happened=pass_over)
    await driver.begin(address)
    ended = asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, ended.set)
    await ended.wait()
    driver.close()


if __name__ == "__main__":
    if sys.argv[1:2] == ["serve"]:
        collect_seldom()
        asyncio.run(_serve(int(sys.argv[2])))
    else:
        for figure in figures({}, ()):
            word = {None: "", True: "met", False: "not met"}[figure.met]
            print(f"{figure.what}: {figure.measured:.3f} {word}")
