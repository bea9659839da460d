"""What a unit's web server and picture server answer: that it is there, and what time its own clock shows."""

import asyncio
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from email.utils import format_datetime
from typing import Final

MOST_BYTES: Final = 8192
PATIENCE_S: Final = 5.0
Clock = Callable[[], datetime]
"""What a unit's own clock shows, with its zone UTC."""


async def serve_web(address: str, port: int, clock: Clock) -> asyncio.Server:
    """Answer HEAD and GET with an empty page and a Date (RFC 9110 §9.3.2, §6.6.1).

    Raises:
        OSError: the address is not of this machine, or the port is taken.
    """

    def answered(head: list[str]) -> str:
        allowed = head[0].split(" ")[0] in ("HEAD", "GET")
        start = "HTTP/1.1 200 OK" if allowed else "HTTP/1.1 405 Method Not Allowed\r\nAllow: GET, HEAD"
        return f"{start}\r\nDate: {_date(clock)}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"

    return await _served(address, port, answered)


async def serve_rtsp(address: str, port: int, clock: Clock) -> asyncio.Server:
    """Answer OPTIONS (RFC 2326 §10.1, §12.17, §12.18).

    Raises:
        OSError: the address is not of this machine, or the port is taken.
    """

    def answered(head: list[str]) -> str:
        asked = dict(line.split(":", 1) for line in head[1:] if ":" in line)
        number = next((value.strip() for name, value in asked.items() if name.lower() == "cseq"), "0")
        allowed = head[0].split(" ")[0] == "OPTIONS"
        start = "RTSP/1.0 200 OK\r\nPublic: OPTIONS" if allowed else "RTSP/1.0 405 Method Not Allowed\r\nAllow: OPTIONS"
        return f"{start}\r\nCSeq: {number}\r\nDate: {_date(clock)}\r\n\r\n"

    return await _served(address, port, answered)


async def _served(address: str, port: int, answered: Callable[[list[str]], str]) -> asyncio.Server:
    async def talk(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(OSError, TimeoutError, asyncio.IncompleteReadError, asyncio.LimitOverrunError):
            try:
                async with asyncio.timeout(PATIENCE_S):
                    head = await reader.readuntil(b"\r\n\r\n")
                writer.write(answered(head.decode("latin-1").split("\r\n")).encode("latin-1"))
                await writer.drain()
            finally:
                writer.close()

    return await asyncio.start_server(talk, address, port, limit=MOST_BYTES)


def _date(clock: Clock) -> str:
    return format_datetime(clock(), usegmt=True)
