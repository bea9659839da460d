"""What the exit codes say: 0 fine, 1 findings, 2 refused, 70 a fault of our own."""

import hashlib
import subprocess
import sys
from pathlib import Path

import click
import pytest

from doorwright.cli.main import FINDINGS, FINE, OUR_FAULT, REFUSED
from tests.unit.cli.conftest import Doorwright


def test_the_codes_are_what_the_documentation_says() -> None:
    # 70 is EX_SOFTWARE of BSD's sysexits.h (from memory)
    assert (FINE, FINDINGS, REFUSED, OUR_FAULT) == (0, 1, 2, 70)


def test_fine(doorwright: Doorwright, book: Path) -> None:
    assert doorwright("show", book, "site").code == 0
    assert doorwright("--version").code == 0
    assert doorwright("check", "--help").code == 0


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ([], 1),
        (["--fail-on", "error"], 1),
        (["--fail-on", "warning"], 1),
        (["--fail-on", "never"], 0),
        (["--rule", "fire-door-unlatched"], 1),
        (["--rule", "control-out-of-reach"], 0),
        (["--rule", "control-out-of-reach", "--fail-on", "warning"], 1),
        (["--rule", "address-used-twice", "--fail-on", "note"], 0),
    ],
)
def test_findings(doorwright: Doorwright, book: Path, options: list[str], code: int) -> None:
    # the example has two errors on purpose (a fire door with a fail-safe strike, a lock at the end of a long cable)
    # and a receiver that hangs too high, which is a warning: examples/medium/README.md
    assert doorwright("check", book, *options).code == code


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["show", "nowhere.book", "site"], "there is no book at"),
        (["show", "BOOK", "site", "--no-such-option"], "No such option"),
        (["show", "BOOK"], "Missing argument"),
        (["show", "BOOK", "nonsense"], "'nonsense' is not one of"),
        (["fly"], "No such command 'fly'"),
        (["explain", "adress-used-twice"], "Did you mean address-used-twice?"),
        (["check", "BOOK", "--rule", "no-such-rule"], "there is no rule 'no-such-rule'"),
        (["diff", "BOOK", "1", "9"], "the book has no revision 9"),
        (["template", "BOOK"], "is there already"),
        (["new", "BOOK", "--from", "x.xlsx"], "is there already"),
        (["new", "new.book", "--from", "nowhere.xlsx"], "nowhere.xlsx"),
        (["import", "BOOK", "nowhere.xlsx"], "nowhere.xlsx"),
        (["export", "BOOK", "--format", "json", "--out", "BOOK"], "is there already"),
        (["export", "BOOK", "--format", "json", "--revision", "9"], "the book has no revision 9"),
        (["waive", "BOOK", "control-out-of-reach", "URU 22", "--reason", "r", "--until", "2001-01-01"], "has passed"),
        (["waive", "BOOK", "control-out-of-reach", "URU 22", "--reason", " ", "--until", "2999-01-01"], "a reason"),
        (["waive", "BOOK", "control-out-of-reach", "URU 23", "--reason", "r", "--until", "2999-01-01"], "nothing"),
        (["waive", "BOOK", "no-such-rule", "x", "--reason", "r", "--until", "2999-01-01"], "there is no such rule"),
        (["vault", "BOOK", "reveal", "Panel A"], "the vault's passphrase is needed"),
        (["check", "BOOK", "--vault"], "the vault's passphrase is needed"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)  # fmt: skip
def test_refused_and_nothing_changed(
    doorwright: Doorwright,
    book: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(book.parent)
    before = hashlib.sha256(book.read_bytes()).hexdigest(), sorted(book.parent.iterdir())
    ran = doorwright(*(str(book) if word == "BOOK" else word for word in arguments))
    assert ran.code == 2
    assert said in ran.err
    assert ran.out == ""
    assert (hashlib.sha256(book.read_bytes()).hexdigest(), sorted(book.parent.iterdir())) == before


def test_every_mistake_of_a_workbook_is_told_and_no_book_is_made(doorwright: Doorwright, tmp_path: Path) -> None:
    folder = tmp_path / "survey"
    folder.mkdir()
    (folder / "Dwellings.csv").write_text("Dwelling,Core,Level\n1,A,Ground\n2,A,\n3,A,\n", encoding="utf-8")
    (folder / "Subnets.csv").write_text("Name,Range\nDoor entry,192.0.2.0/99\n", encoding="utf-8")
    ran = doorwright("new", tmp_path / "new.book", "--from", folder)
    assert ran.code == 2
    assert "survey has 3 mistakes; nothing was saved" in ran.err
    for where in ('"Dwellings", row 3', '"Dwellings", row 4', '"Subnets", row 2'):
        assert where in ran.err
    assert not (tmp_path / "new.book").exists()


def test_a_folder_of_profiles_that_is_not_there_is_told(
    doorwright: Doorwright, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DOORWRIGHT_PROFILES", str(tmp_path / "profils"))
    ran = doorwright("template", tmp_path / "survey.xlsx")
    assert ran.code == 2
    assert "there is no such folder" in ran.err
    assert not (tmp_path / "survey.xlsx").exists()


def test_the_demo_touches_no_folder_of_somebody_else(doorwright: Doorwright, tmp_path: Path) -> None:
    mine = tmp_path / "pack" / "mine.txt"
    mine.parent.mkdir()
    mine.write_text("mine", encoding="utf-8")
    ran = doorwright("demo", "--out", tmp_path)
    assert ran.code == 2
    assert "is not empty" in ran.err
    assert mine.read_text(encoding="utf-8") == "mine"


def test_a_fault_of_our_own(doorwright: Doorwright, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr("doorwright.cli.commands.show.show_table", broken)
    ran = doorwright("show", book, "site")
    assert ran.code == 70
    assert ran.out == ""
    assert "ZeroDivisionError: a bug" in ran.err
    assert "fault of Doorwright's own" in ran.err


def test_stopped_by_the_user(doorwright: Doorwright, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> None:
        raise click.Abort

    monkeypatch.setattr("doorwright.cli.commands.show.show_table", stopped)
    ran = doorwright("show", book, "site")
    assert ran.code == 2
    assert "Stopped" in ran.err


def test_a_reader_that_leaves_early_is_no_fault() -> None:
    command = [sys.executable, "-m", "doorwright", "explain", "--json"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        assert process.stderr.read() == ""
    assert process.returncode == 0
