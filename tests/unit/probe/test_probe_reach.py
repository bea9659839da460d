"""The system's ping, by a stand-in for it, and all that one part is asked: which silence means what."""

import asyncio
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from doorwright.kernel.verdict import Subject
from doorwright.model.unit import Unit
from doorwright.probe import echo, neighbours, reach
from doorwright.probe.ask import Asker, Manner
from doorwright.probe.heard import Heard
from doorwright.probe.neighbours import Neighbour, Neighbourhood, Table, read_table
from doorwright.probe.reach import Outcome, outcome_of, ping, ping_command
from doorwright.probe.target import Ports, Target
from tests.unit.probe.loopback import Building, certificate, closed_port, http_answer, says, sip_answer

POSIX_ALONE = pytest.mark.skipif(sys.platform == "win32", reason="the stand-in is a shell script")
LOST = "1 packets transmitted, 0 received, 100% packet loss, time 0ms"


@pytest.fixture
def building() -> Iterator[Building]:
    with Building() as one:
        yield one


@pytest.fixture
def stand_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A file that is found as the system's ping, with nothing in it yet."""
    monkeypatch.setenv("PATH", str(tmp_path))
    file = tmp_path / "ping"
    file.touch(mode=0o755)
    return file


@POSIX_ALONE
@pytest.mark.parametrize(
    ("script", "said"),
    [
        ("echo '64 bytes from 127.0.0.7: icmp_seq=1 ttl=64'; exit 0", True),
        (f"echo '{LOST}'; exit 1", False),
        ("echo '1 packets transmitted, 0 packets received, 100.0% packet loss'; exit 2", False),
        ("echo 'ping: socket: Operation not permitted' >&2; exit 2", None),
        ("echo 'PING 127.0.0.100'; exit 1", None),  # no word of what was lost: its own trouble
        ("exec sleep 60", None),  # hangs: is ended, and says nothing of the other end
    ],
)
def test_what_ping_says_is_read(
    stand_in: Path, monkeypatch: pytest.MonkeyPatch, script: str, said: bool | None
) -> None:
    stand_in.write_text(f"#!/bin/sh\nPATH=/usr/bin:/bin\n{script}\n", encoding="utf-8")
    if said is None and "sleep" in script:
        monkeypatch.setattr(reach, "GRACE_S", 0.1)
    assert asyncio.run(ping("127.0.0.7", patience_s=0.2)) is said


@POSIX_ALONE
def test_each_system_is_asked_in_its_own_way(stand_in: Path) -> None:
    program = str(stand_in)
    assert ping_command("127.0.0.7", patience_s=1.5, platform="linux") == (
        program, "-n", "-c", "1", "-W", "2", "127.0.0.7",
    )  # fmt: skip
    assert ping_command("127.0.0.7", patience_s=1.5, platform="darwin") == (
        program, "-n", "-c", "1", "-W", "1500", "127.0.0.7",
    )  # fmt: skip
    assert ping_command("127.0.0.7", patience_s=1.5, platform="win32") == (
        program, "-n", "1", "-w", "1500", "127.0.0.7",
    )  # fmt: skip
    with pytest.raises(ValueError, match="-f"):
        ping_command("-f", patience_s=1.5)  # what is no address is no argument either


def test_without_a_ping_nothing_is_said_of_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert asyncio.run(ping("127.0.0.7", patience_s=1)) is None


def test_an_error_of_this_machine_is_not_the_other_ends() -> None:
    import errno

    assert outcome_of(OSError(errno.ENETUNREACH, "")) is Outcome.NO_WAY
    assert outcome_of(OSError(errno.EHOSTUNREACH, "")) is Outcome.SILENT  # nobody answers for that address
    assert outcome_of(ConnectionRefusedError()) is Outcome.REFUSED
    assert outcome_of(ConnectionResetError()) is Outcome.REFUSED


# all that one part is asked


def asked(ports: Ports, table: Table | None = None, *, pings: bool = False) -> Heard:
    manner = Manner(asks_per_s=1000, patience_s=0.3, sip_patience_s=0.3, ports=ports, pings=pings)
    around = Neighbourhood(frozenset({"127.0.0.1"}), read=lambda: table)
    asker = Asker(manner, around, now=lambda: datetime.now(UTC), chance=bytes)
    target = Target(subject=Subject(Unit.KIND, "u"), name="U", address="127.0.0.1", ports=ports)
    return asyncio.run(asker.ask(target))


def nothing() -> Ports:
    return Ports(http=None, https=None, rtsp=None, sip=None)


def test_a_part_that_answers_everything(building: Building, tmp_path: Path) -> None:
    last = datetime(2041, 1, 1, tzinfo=UTC)
    tls = certificate(tmp_path, first=datetime(2021, 1, 1, tzinfo=UTC), last=last)
    ports = Ports(
        sip=building.udp("127.0.0.1", 0, sip_answer(ahead=timedelta(hours=5))).port,
        https=building.tcp("127.0.0.1", 0, http_answer(ahead=timedelta(hours=1), status="401 No"), tls=tls),
        http=building.tcp("127.0.0.1", 0, says(b"junk\r\n\r\n")),
        rtsp=building.tcp("127.0.0.1", 0, says(b"RTSP/1.0 200 OK\r\nCSeq: 1\r\n\r\n")),
    )
    heard = asked(ports, {"127.0.0.1": Neighbour("00-00-5E-00-53-07", is_fresh=False)})
    assert heard.is_there is True
    assert [one.text if one else None for one in (heard.sip, heard.web, heard.rtsp)] == ["200", "401", "200"]
    assert heard.valid == (datetime(2021, 1, 1, tzinfo=UTC).date(), last.date())
    assert heard.ahead_s is not None
    assert abs(heard.ahead_s - 3600) <= 2  # of several clocks that of the web server
    assert heard.macs == ("00-00-5E-00-53-07",)  # it answered, so what the table knows is true now


def test_who_refuses_is_there() -> None:
    heard = asked(Ports(http=closed_port(), https=None, rtsp=None, sip=None))
    assert (heard.is_there, heard.web.text if heard.web else "") == (True, "none")


def test_who_is_silent_is_not_there_and_an_old_table_is_no_proof(building: Building) -> None:
    port = building.udp("127.0.0.1", 0, lambda _count, _request: ()).port
    ports = Ports(http=None, https=None, rtsp=None, sip=port)
    stale = asked(ports, {"127.0.0.1": Neighbour("00-00-5E-00-53-07", is_fresh=False)})
    assert (stale.is_there, stale.macs) == (False, ())
    fresh = asked(ports, {"127.0.0.1": Neighbour("00-00-5E-00-53-07", is_fresh=True)})
    assert (fresh.is_there, fresh.macs) == (True, ("00-00-5E-00-53-07",))


def test_where_nothing_could_be_asked_nothing_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(echo, "open_socket", lambda version: None)
    assert asked(nothing(), pings=True).is_there is None


@POSIX_ALONE
def test_where_the_system_gives_no_socket_its_own_ping_is_asked(
    stand_in: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(echo, "open_socket", lambda version: None)
    stand_in.write_text("#!/bin/sh\nexit 0\n", encoding="utf-8")
    heard = asked(nothing(), pings=True)
    assert (heard.pinged, heard.is_there) == (True, True)


def test_two_that_take_turns_at_one_address_are_both_told() -> None:
    tables = [{"127.0.0.1": Neighbour(f"00-00-5E-00-53-0{n}", is_fresh=True)} for n in (7, 9)]
    around = Neighbourhood(frozenset({"127.0.0.1"}), read=lambda: tables.pop(0))
    ports = nothing()
    asker = Asker(Manner(ports=ports, pings=False), around, now=lambda: datetime.now(UTC), chance=bytes)
    target = Target(subject=Subject(Unit.KIND, "u"), name="U", address="127.0.0.1", ports=ports)
    assert asyncio.run(asker.ask(target)).macs == ("00-00-5E-00-53-07", "00-00-5E-00-53-09")


# the table of neighbours, as the system gives it


@POSIX_ALONE
def test_the_table_comes_from_the_systems_own_program_or_else_from_its_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program, file = tmp_path / "ip", tmp_path / "arp"
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(neighbours, "_OLD_TABLE", file)
    assert read_table() is None  # neither is there: this system does not tell
    file.write_text("heading\n127.0.0.9 0x1 0x2 00:00:5e:00:53:09 * lo\n", encoding="ascii")
    assert read_table() == {"127.0.0.9": Neighbour("00-00-5E-00-53-09", is_fresh=False)}
    row = '[{"dst":"127.0.0.7","lladdr":"00:00:5e:00:53:07","state":["REACHABLE"]}]'
    program.write_text(f"#!/bin/sh\necho '{row}'\n", encoding="utf-8")
    program.chmod(0o755)
    assert read_table() == {"127.0.0.7": Neighbour("00-00-5E-00-53-07", is_fresh=True)}
    program.write_text("#!/bin/sh\nexit 255\n", encoding="utf-8")  # too old to know -json
    assert read_table() == {"127.0.0.9": Neighbour("00-00-5E-00-53-09", is_fresh=False)}
