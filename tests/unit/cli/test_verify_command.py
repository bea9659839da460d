"""`verify`: the caution, the lines in a pipe, the JSON, the exit code. Asked are loopback addresses alone."""

from datetime import UTC, datetime
from pathlib import Path
from socket import SOCK_DGRAM

import pytest

from doorwright.cli.printer import Printer
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright
from tests.unit.probe.loopback import Building, closed_port, sip_answer

SITE = Site(
    name="Alder Court",
    units=(
        Unit(id="u1", name="URU 1", kind=UnitKind.URU, profile="p", address="127.0.0.1"),
        Unit(id="u2", name="URU 2", kind=UnitKind.URU, profile="p"),
    ),
)


@pytest.fixture
def alder(tmp_path: Path) -> Path:
    path = tmp_path / "alder.book"
    Book.create(path, SITE, by="Ada", at=datetime(2026, 1, 1, tzinfo=UTC), message="made").close()
    return path


def alone(port: int) -> tuple[object, ...]:
    """Options that ask over SIP alone."""
    return (
        "--sip-port", port, "--http-port", 0, "--https-port", 0, "--rtsp-port", 0, "--no-ping", "--rate", 500,
        "--by", "A. Fitter",
    )  # fmt: skip


def test_the_first_run_waits_for_permission(doorwright: Doorwright, alder: Path) -> None:
    ran = doorwright("verify", alder, *alone(closed_port(SOCK_DGRAM)))
    assert ran.code == 2
    assert "only with its owner's permission" in ran.err
    assert "--permitted" in ran.err


@pytest.mark.parametrize(("answer", "code"), [(True, 0), (False, 2)])
def test_at_a_keyboard_the_caution_is_shown_and_asked(
    doorwright: Doorwright, alder: Path, monkeypatch: pytest.MonkeyPatch, answer: bool, code: int
) -> None:
    questions: list[str] = []

    def ask(_: Printer, question: str) -> bool:
        questions.append(question)
        return answer

    monkeypatch.setattr(Printer, "can_ask", True)
    monkeypatch.setattr(Printer, "ask", ask)
    with Building() as building:
        port = building.udp("127.0.0.1", 0, sip_answer()).port
        assert doorwright("verify", alder, *alone(port)).code == code
        assert "only with its owner's permission" in questions[0]
        if answer:
            assert doorwright("verify", alder, *alone(port)).code == 0
            assert len(questions) == 1  # said once, the book remembers


def test_a_pipe_gets_a_line_each_and_what_to_do(doorwright: Doorwright, alder: Path) -> None:
    with Building() as building:
        port = building.udp("127.0.0.1", 0, sip_answer(503)).port
        ran = doorwright("verify", alder, "--permitted", *alone(port))
    assert ran.code == 1
    assert "URU 1  127.0.0.1  yes  503  -  -  -  -" in ran.out
    assert "Asked 1: 1 answered, 0 silent." in ran.out
    assert "URU 2  it has no address in the plan" in ran.out
    assert "503 means that it is full or overloaded" in ran.out

    later = doorwright("verify", alder, *alone(port))
    assert later.code == 1  # what was found stands
    assert "Left in peace, asked a short while ago: 1 part" in later.out


def test_json_tells_everything(doorwright: Doorwright, alder: Path) -> None:
    with Building() as building:
        port = building.udp("127.0.0.1", 0, sip_answer()).port
        told = doorwright("verify", alder, "--permitted", "--json", *alone(port)).json
    (one,) = told["asked"]
    assert (one["part"]["label"], one["answers"], one["sip"], one["web"], one["ping"]) == (
        "URU 1", True, "200", None, None,
    )  # fmt: skip
    assert told["left_out"] == [{"label": "URU 2", "reason": "it has no address in the plan"}]
    assert (told["new"], told["found"]["differences"]) == (2, [])


def test_on_a_terminal_the_table_moves(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")  # what the printer takes for a terminal
    monkeypatch.setenv("COLUMNS", "100")
    printer = Printer(as_json=False)
    with printer.live(("part", "answers")) as show:
        show(("URU\x1b[2J 1", "yes"), "asked 1 of 2")
        show(("URU 2", "no"), "asked 2 of 2")
    out = capsys.readouterr().out
    assert "asked 2 of 2" in out
    assert "URU 2" in out
    assert "\x1b[2J" not in out  # what a plan says steers no terminal
