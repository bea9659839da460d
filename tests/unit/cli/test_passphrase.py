"""The passphrase: from a file, from the environment, from standard input; wrong, short, changed."""

import io
from pathlib import Path

import pytest

from tests.unit.cli.conftest import PASSPHRASE, WORKBOOK, Doorwright

NEW = "another four words entirely, and more"


def test_from_a_file(doorwright: Doorwright, book: Path, passphrase_file: Path) -> None:
    ran = doorwright("vault", book, "reveal", "Panel A", "--passphrase-file", passphrase_file, "--json")
    assert [row["use"] for row in ran.json] == ["device secret", "SIP secret"]


def test_from_a_file_with_a_byte_order_mark(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    marked = tmp_path / "marked.txt"
    marked.write_text(f"{PASSPHRASE}\r\n", encoding="utf-8-sig")
    assert doorwright("vault", book, "reveal", "Panel A", "--passphrase-file", marked).code == 0


def test_a_file_of_another_encoding_is_refused(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.txt"
    other.write_text(PASSPHRASE, encoding="utf-16")
    ran = doorwright("vault", book, "reveal", "Panel A", "--passphrase-file", other)
    assert ran.code == 2
    assert "other.txt is no text in UTF-8" in ran.err


def test_from_the_environment(doorwright: Doorwright, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DOORWRIGHT_PASSPHRASE", PASSPHRASE)
    assert doorwright("vault", book, "reveal", "Panel A").code == 0


def test_from_standard_input(doorwright: Doorwright, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(f"{PASSPHRASE}\r\n".encode()), encoding="utf-8"))
    assert doorwright("vault", book, "reveal", "Panel A", "--passphrase-file", "-").code == 0


def test_a_wrong_one_is_refused(doorwright: Doorwright, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DOORWRIGHT_PASSPHRASE", NEW)
    for arguments in (["vault", book, "reveal", "Panel A"], ["plan", book], ["check", book, "--vault"]):
        ran = doorwright(*arguments)
        assert ran.code == 2
        assert "passphrase" in ran.err
        assert NEW not in ran.err


def test_a_short_one_is_refused(doorwright: Doorwright, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    new = tmp_path / "new.book"
    assert doorwright("new", new, "--from", WORKBOOK).code == 0
    monkeypatch.setenv("DOORWRIGHT_PASSPHRASE", "fourteen chars")  # NIST SP 800-63B-4 asks for 15
    ran = doorwright("vault", new, "passphrase")
    assert ran.code == 2
    assert "it needs at least 15" in ran.err


def test_plan_without_one_says_how_many_secrets_wait(doorwright: Doorwright, tmp_path: Path) -> None:
    new = tmp_path / "new.book"
    doorwright("new", new, "--from", WORKBOOK)
    ran = doorwright("plan", new)
    assert ran.code == 0
    waiting = doorwright("plan", new, "--json").json["secrets_waiting_count"]
    assert waiting > 100
    assert f"{waiting} secrets" in ran.out
    assert f"doorwright vault {new} passphrase" in ran.out


def test_changed(doorwright: Doorwright, book: Path, passphrase_file: Path, tmp_path: Path) -> None:
    new_file = tmp_path / "new.txt"
    new_file.write_text(f"{NEW}\n", encoding="utf-8")
    before = doorwright("vault", book, "reveal", "Panel A", "--passphrase-file", passphrase_file, "--json").json
    change = ["vault", book, "passphrase", "--passphrase-file", passphrase_file, "--new-passphrase-file", new_file]
    assert "The passphrase is changed." in doorwright(*change).out
    assert doorwright("vault", book, "reveal", "Panel A", "--passphrase-file", passphrase_file).code == 2
    after = doorwright("vault", book, "reveal", "Panel A", "--passphrase-file", new_file, "--json").json
    assert after == before


def test_nobody_of_that_name(doorwright: Doorwright, book: Path, passphrase_file: Path) -> None:
    ran = doorwright("vault", book, "reveal", "Nobody", "--passphrase-file", passphrase_file)
    assert ran.code == 2
    assert "no secret was issued to anything called 'Nobody'" in ran.err
