"""Echo requests (RFC 792, RFC 4443) to many addresses over one socket of each kind, where the system lets us have it.

Starting the system's ping for each address takes longer than the answer does. Linux and macOS give anybody a datagram
socket for echo requests, where Linux is set so; whoever administers a machine also has a raw one.
"""

import asyncio
import socket
import struct
import sys
from collections.abc import Callable
from contextlib import suppress
from ipaddress import ip_address
from typing import Final

from doorwright.line.udp import DRAIN_COUNT, ROOM_BYTES
from doorwright.probe.reach import Outcome, outcome_of

_HEAD: Final = struct.Struct("!BBHHH")
"""Type, code, checksum, identifier, number: the same in both versions (RFC 792 p. 14, RFC 4443 §4.1)."""
_REQUEST: Final = {4: 8, 6: 128}
_REPLY: Final = {4: 0, 6: 129}
_TOKEN_BYTES: Final = 8
_LONGEST_BYTES: Final = 2048
_NUMBERS: Final = 1 << 16
_OURS: Final = 0xD00
"""The identifier, where the system does not choose it; the token tells whose an echo is."""


def checksum(data: bytes) -> int:
    """Return the Internet checksum (RFC 1071 §1): the complement of the sum of 16-bit words, carries added in."""
    even = data + b"\0" * (len(data) % 2)
    total: int = sum(struct.unpack(f"!{len(even) // 2}H", even))
    while total >> 16:
        total = (total & 0xFFFF) + (total >> 16)
    return ~total & 0xFFFF


def request_of(version: int, ident: int, number: int, token: bytes) -> bytes:
    """Return an echo request; of version 6 the system itself makes the checksum (RFC 3542 §3.1)."""
    plain = _HEAD.pack(_REQUEST[version], 0, 0, ident, number) + token
    made = checksum(plain) if version == 4 else 0
    return _HEAD.pack(_REQUEST[version], 0, made, ident, number) + token


def read_reply(version: int, data: bytes) -> tuple[int, bytes] | None:
    """Return number and token of an echo reply, or None; some systems put the IP header before it (RFC 791 §3.1)."""
    if version == 4 and data and data[0] >> 4 == 4:
        data = data[(data[0] & 0xF) * 4 :]
    if len(data) < _HEAD.size:
        return None
    kind, code, _, _, number = _HEAD.unpack_from(data)
    if kind != _REPLY[version] or code:
        return None
    return number, data[_HEAD.size :]


class Echo:
    """Asks addresses for an echo. Each request carries a token of its own, so that no stranger's echo counts.

    Its sockets are open while somebody waits for an echo, and no longer.
    """

    def __init__(self, chance: Callable[[int], bytes]) -> None:
        self._chance = chance
        self._sockets: dict[int, socket.socket] = {}
        self._waiting: dict[int, dict[tuple[str, int], tuple[bytes, asyncio.Future[bool]]]] = {4: {}, 6: {}}
        self._number = 0

    async def ask(self, address: str, *, patience_s: float) -> bool | None:
        """Return whether an address echoed; None where this machine cannot ask so.

        Args:
            address: an IP address.
            patience_s: how long to wait.
        """
        asked = ip_address(address)
        raw = self._sockets.get(asked.version) or self._opened(asked.version)
        if raw is None:
            return None
        self._number = (self._number + 1) % _NUMBERS
        key, token = (str(asked), self._number), self._chance(_TOKEN_BYTES)
        echoed: asyncio.Future[bool] = asyncio.get_running_loop().create_future()
        waiting = self._waiting[asked.version]
        waiting[key] = (token, echoed)
        try:
            raw.sendto(request_of(asked.version, _OURS, self._number, token), (address, 0))
            async with asyncio.timeout(patience_s):
                return await echoed
        except TimeoutError:
            return False
        except OSError as error:
            return None if outcome_of(error) is Outcome.NO_WAY else False
        finally:
            del waiting[key]
            if not waiting:
                asyncio.get_running_loop().remove_reader(raw)
                self._sockets.pop(asked.version).close()

    def _opened(self, version: int) -> socket.socket | None:
        raw = open_socket(version)
        if raw is None:
            return None
        try:
            asyncio.get_running_loop().add_reader(raw, self._drain, raw, version)
        except NotImplementedError:  # loops that watch no sockets
            raw.close()
            return None
        self._sockets[version] = raw
        return raw

    def _drain(self, raw: socket.socket, version: int) -> None:
        for _ in range(DRAIN_COUNT):
            try:
                data, source = raw.recvfrom(_LONGEST_BYTES)
            except (BlockingIOError, InterruptedError):
                return
            except OSError:
                continue
            reply = read_reply(version, data)
            if reply is None:
                continue
            number, token = reply
            waiting = self._waiting[version].get((source[0].partition("%")[0], number))
            if waiting is not None and waiting[0] == token and not waiting[1].done():
                waiting[1].set_result(True)


def open_socket(version: int) -> socket.socket | None:
    """Return a socket for echoes, or None where the system gives us none."""
    if sys.platform == "win32":
        return None
    family = socket.AF_INET if version == 4 else socket.AF_INET6
    protocol = socket.IPPROTO_ICMP if version == 4 else socket.IPPROTO_ICMPV6
    for kind in (socket.SOCK_DGRAM, socket.SOCK_RAW):
        try:
            raw = socket.socket(family, kind, protocol)
        except OSError:
            continue
        raw.setblocking(False)
        with suppress(OSError):  # less room is no reason to give up
            raw.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, ROOM_BYTES)
        return raw
    return None
