"""A building on this machine's own loopback addresses: servers that behave, and servers that do not.

Nothing here binds or asks any address outside 127.0.0.0/8 (RFC 1122 §3.2.1.3: never seen on a network).
"""

import asyncio
import os
import socket
import ssl
import threading
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from ipaddress import ip_address, ip_network
from pathlib import Path
from typing import Any, TypeVar

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from doorwright.line.driver import Driven, Driver
from doorwright.sip.message import Request, parse, response_to
from tests.unit.probe.answering import Answering

T = TypeVar("T")

LOOPBACK = ip_network("127.0.0.0/8")
Talk = Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]]
Respond = Callable[[int, Request], Sequence[bytes]]
"""What is sent back for a request: its count from 1, and what it says."""


def closed_port(kind: socket.SocketKind = socket.SOCK_STREAM) -> int:
    """A port of 127.0.0.1 at which nobody listened a moment ago."""
    with socket.socket(socket.AF_INET, kind) as held:
        held.bind(("127.0.0.1", 0))
        return int(held.getsockname()[1])


def shared_ports(count: int) -> tuple[int, ...]:
    """Ports for servers on several addresses: below those that systems give away, others for each test process."""
    first = 20_000 + os.getpid() * count % 10_000
    return tuple(range(first, first + count))


def need_many_addresses() -> None:
    """Skip where the system has 127.0.0.1 alone."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        try:
            one.bind(("127.0.0.2", 0))
        except OSError:
            pytest.skip("this system has one loopback address alone")


def certificate(folder: Path, *, first: datetime, last: datetime) -> ssl.SSLContext:
    """A server's TLS with a certificate of its own making."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "unit.example")])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(first)
        .not_valid_after(last)
        .sign(key, hashes.SHA256())
    )
    file = folder / f"unit-{last:%Y%m%d}.pem"
    file.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
        + made.public_bytes(serialization.Encoding.PEM)
    )
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(file)
    return context


def http_answer(*, ahead: timedelta = timedelta(0), status: str = "200 OK") -> Talk:
    """A web server that tells its clock."""

    async def talk(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.readuntil(b"\r\n\r\n")
        date = format_datetime(datetime.now(UTC) + ahead, usegmt=True)
        writer.write(f"HTTP/1.1 {status}\r\nDate: {date}\r\nContent-Length: 0\r\n\r\n".encode())
        await writer.drain()

    return talk


def says(data: bytes) -> Talk:
    """A server that says this, whatever it is asked."""

    async def talk(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(4096)  # closing with something unread would reset the connection
        writer.write(data)
        await writer.drain()

    return talk


async def takes_and_waits(reader: asyncio.StreamReader, _: asyncio.StreamWriter) -> None:
    """A server that takes the connection and never says a word."""
    while await reader.read(1024):
        pass


def sip_answer(code: int = 200, *, ahead: timedelta | None = None, after: int = 1) -> Respond:
    """A unit that answers from its nth request on; before, the wire loses what is sent."""

    def respond(count: int, request: Request) -> Sequence[bytes]:
        if count < after:
            return ()
        date = () if ahead is None else (("Date", format_datetime(datetime.now(UTC) + ahead, usegmt=True)),)
        return (response_to(request, code, to_tag="unit", headers=date).to_bytes(),)

    return respond


@dataclass
class Asked:
    """What a unit was sent, and at which port."""

    port: int = 0
    requests: list[Request] = field(default_factory=list)


class _Unit(asyncio.DatagramProtocol):
    def __init__(self, respond: Respond, asked: Asked) -> None:
        self._respond, self._asked = respond, asked

    def connection_made(self, transport: Any) -> None:
        self._transport = transport

    def datagram_received(self, data: bytes, addr: tuple[str, int]) -> None:
        assert ip_address(addr[0]) in LOOPBACK
        request = parse(data)
        assert isinstance(request, Request)
        self._asked.requests.append(request)
        for one in self._respond(len(self._asked.requests), request):
            self._transport.sendto(one, addr)


class Building:
    """Servers on loopback addresses, in an event loop of a thread of their own."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._open: list[asyncio.Server | asyncio.DatagramTransport | Driver | Answering] = []
        self._writers: set[asyncio.StreamWriter] = set()

    def __enter__(self) -> "Building":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._do(self._close())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def tcp(self, address: str, port: int, talk: Talk, *, tls: ssl.SSLContext | None = None) -> int:
        """Listen, talk with whoever comes, hang up. Port 0 takes any that is free; the one taken is returned."""
        assert ip_address(address) in LOOPBACK

        async def handle(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            self._writers.add(writer)
            try:
                await talk(reader, writer)
            except (OSError, asyncio.IncompleteReadError):
                pass
            finally:
                writer.close()
                self._writers.discard(writer)

        async def start() -> int:
            server = await asyncio.start_server(handle, address, port, ssl=tls)
            self._open.append(server)
            return int(server.sockets[0].getsockname()[1])

        return self._do(start())

    def udp(self, address: str, port: int, respond: Respond) -> Asked:
        """Listen for SIP over UDP. Port 0 takes any that is free."""
        assert ip_address(address) in LOOPBACK
        asked = Asked()

        async def start() -> None:
            transport, _ = await self._loop.create_datagram_endpoint(
                lambda: _Unit(respond, asked), local_addr=(address, port)
            )
            self._open.append(transport)
            asked.port = transport.get_extra_info("sockname")[1]

        self._do(start())
        return asked

    @property
    def now_s(self) -> float:
        """The moment, by the clock of whatever is driven."""
        return self._loop.time()

    def drive(self, address: str, port: int, driven: Driven) -> None:
        """Put whatever runs by the calls of ``doorwright.sip`` there."""
        assert ip_address(address) in LOOPBACK

        async def start() -> None:
            driver = Driver(driven)
            await driver.begin((address, port))
            self._open.append(driver)

        self._do(start())

    def answers(self, unit: Answering, address: str, port: int) -> None:
        """Put a unit there that takes calls."""
        assert ip_address(address) in LOOPBACK
        self._do(unit.begin((address, port)))
        self._open.append(unit)

    async def _close(self) -> None:
        for one in self._open:
            one.close()
        for writer in tuple(self._writers):
            writer.transport.abort()
        mine = asyncio.current_task()
        others = [task for task in asyncio.all_tasks() if task is not mine]
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)

    def _do(self, work: Coroutine[Any, Any, T]) -> T:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(timeout=20)
