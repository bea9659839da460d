"""Echo requests: the bytes of RFC 792, the checksum of RFC 1071, whose echo counts, and this machine's own loopback."""

import asyncio
import os
import socket

import pytest

from doorwright.probe import echo
from doorwright.probe.echo import Echo, checksum, open_socket, read_reply, request_of


def test_the_checksum_is_that_of_the_rfc() -> None:
    # RFC 1071 §3: the words 0001 f203 f4f5 f6f7 add up to ddf2 with carries; the checksum is its complement, 220d
    assert checksum(bytes.fromhex("0001f203f4f5f6f7")) == 0x220D
    assert checksum(b"\xff") == checksum(b"\xff\x00") == 0x00FF


def test_a_request_is_as_the_rfcs_draw_it() -> None:
    # RFC 792: type 8, code 0, checksum, identifier, number, data. Words: 0800 0001 0002 6162 add up to 6965 -> 969a
    assert request_of(4, 1, 2, b"ab") == bytes.fromhex("0800969a000100026162")
    assert checksum(request_of(4, 1, 2, b"ab")) == 0  # RFC 1071 §1: checked, the sum with its checksum is all ones
    assert request_of(6, 1, 2, b"ab")[:2] == bytes.fromhex("8000")  # RFC 4443 §4.1: type 128, code 0


@pytest.mark.parametrize(
    ("version", "data", "read"),
    [
        (4, "0000000000010002 6162", (2, b"ab")),
        (4, "45000000000000004001000000000000 00000000 0000000000010002 6162", (2, b"ab")),  # behind an IP header
        (4, "46000000000000004001000000000000 00000000 00000000 0000000000010002 6162", (2, b"ab")),  # with an option
        (4, "0800000000010002 6162", None),  # a request: our own comes back to a raw socket on loopback
        (4, "0301000000000000", None),  # unreachable
        (4, "", None),
        (4, "45", None),
        (4, "000000", None),
        (6, "8100000000010002 6162", (2, b"ab")),  # RFC 4443 §4.2: type 129
        (6, "8000000000010002 6162", None),
    ],
)
def test_what_is_an_echo(version: int, data: str, read: tuple[int, bytes] | None) -> None:
    assert read_reply(version, bytes.fromhex(data)) == read


def needs_a_socket() -> None:
    raw = open_socket(4)
    if raw is None:
        pytest.skip("this system gives no socket for echoes")
    raw.close()


def test_many_addresses_of_this_machine_echo_over_one_socket(monkeypatch: pytest.MonkeyPatch) -> None:
    needs_a_socket()
    opened: list[socket.socket | None] = []

    def open_and_note(version: int) -> socket.socket | None:
        opened.append(open_socket(version))
        return opened[-1]

    monkeypatch.setattr(echo, "open_socket", open_and_note)

    async def ask() -> list[bool | None]:
        asking = Echo(os.urandom)
        return await asyncio.gather(*(asking.ask(f"127.0.0.{last}", patience_s=10) for last in range(1, 101)))

    assert asyncio.run(ask()) == [True] * 100
    (one,) = opened
    assert one is not None
    assert one.fileno() == -1  # closed once nobody waits


def test_an_echo_of_another_token_is_none_of_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pair of sockets stands in for the network: what comes back has the right number and another token."""
    here, there = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    here.setblocking(False)

    class Stand:
        def fileno(self) -> int:
            return here.fileno()

        def sendto(self, data: bytes, _: object) -> None:
            there.send(bytes([0, 0]) + data[2:8] + b"another!")

        def recvfrom(self, size: int) -> tuple[bytes, tuple[str, int]]:
            return here.recv(size), ("127.0.0.7", 0)

        def close(self) -> None:
            here.close()

    monkeypatch.setattr(echo, "open_socket", lambda version: Stand())
    assert asyncio.run(Echo(bytes).ask("127.0.0.7", patience_s=0.1)) is False
    there.close()
