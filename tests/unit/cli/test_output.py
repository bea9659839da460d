"""What commands print: JSON where it is asked for, plain columns in a pipe."""

import json
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from doorwright.app.show import SUBJECTS
from doorwright.app.vault import opened_secrets
from doorwright.store.book import Book
from tests.unit.cli.conftest import PASSPHRASE, WORKBOOK, Doorwright

ORNAMENT = re.compile(r"\x1b|[\u2500-\u257f]")
"""What a terminal draws with: escape sequences, and the lines and corners of boxes."""

COMMANDS = [
    ["history", "BOOK"],
    ["diff", "BOOK", "1", "2"],
    ["diff", "BOOK", "2", "2"],
    ["check", "BOOK"],
    ["check", "BOOK", "--vault", "--passphrase-file", "PASSPHRASE"],
    ["explain"],
    ["explain", "address-used-twice"],
    ["plan", "BOOK"],
    ["plan", "BOOK", "--passphrase-file", "PASSPHRASE"],
    ["plan", "BOOK", "--no-secrets"],
    ["import", "BOOK", "WORKBOOK"],
    ["export", "BOOK", "--format", "json"],
    ["export", "BOOK", "--format", "xlsx"],
    ["template", "new.xlsx"],
    ["new", "new.book", "--from", "WORKBOOK"],
    ["waive", "BOOK", "control-out-of-reach", "URU 22", "--reason", "asked for", "--until", "2999-12-31"],
    ["waive", "BOOK", "--list"],
    ["sign-off", "BOOK", "--list"],
    ["found", "BOOK"],
    ["paths", "BOOK"],
    ["schedule", "BOOK", "--technicians", "2", "--seconds", "1"],
    ["change", "BOOK", "rename", "URU 22", "--to", "URU 22 hall", "--dry-run"],
    ["undo", "BOOK"],
    *(["show", "BOOK", what] for what in SUBJECTS),
]
PAPERS = [
    ["pack", "BOOK", "--out", "pack"],
    ["vault", "BOOK", "sheet", "sealed.pdf", "--passphrase-file", "PASSPHRASE"],
]
"""Commands that set papers: slower than the others."""
REFUSED = [
    ["show", "nowhere.book", "site"],
    ["show", "BOOK", "nonsense"],
    ["new", "new.book", "--from", "nowhere.xlsx"],
    ["vault", "BOOK", "reveal", "Panel A"],
    ["explain", "no-such-rule"],
    ["fly"],
]


@pytest.fixture
def filled(book: Path, passphrase_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    monkeypatch.chdir(tmp_path)
    return {"BOOK": str(book), "PASSPHRASE": str(passphrase_file), "WORKBOOK": str(WORKBOOK)}


def said(value: Any) -> str:
    return " ".join(value) if isinstance(value, list) else ""


@pytest.mark.parametrize("arguments", [*COMMANDS, *PAPERS], ids=said)
def test_json_is_json(doorwright: Doorwright, filled: dict[str, str], arguments: list[str]) -> None:
    ran = doorwright(*(filled.get(word, word) for word in arguments), "--json")
    assert ran.code in (0, 1)
    json.loads(ran.out)
    assert ran.err == ""


@pytest.mark.parametrize("arguments", REFUSED, ids=said)
def test_a_refusal_is_json_too(doorwright: Doorwright, filled: dict[str, str], arguments: list[str]) -> None:
    ran = doorwright(*(filled.get(word, word) for word in arguments), "--json")
    assert ran.code == 2
    assert set(ran.json) == {"refused", "remedy", "mistakes"}
    assert ran.json["refused"]


@pytest.mark.parametrize("arguments", [*COMMANDS, *PAPERS], ids=said)
def test_a_pipe_gets_plain_text(doorwright: Doorwright, filled: dict[str, str], arguments: list[str]) -> None:
    ran = doorwright(*(filled.get(word, word) for word in arguments))
    assert ran.code in (0, 1)
    assert ran.out.strip()
    assert not ORNAMENT.search(ran.out)
    assert not ORNAMENT.search(ran.err)


def test_every_table_has_the_same_rows_as_its_json(doorwright: Doorwright, book: Path) -> None:
    for what in SUBJECTS:
        rows = doorwright("show", book, what, "--json").json["rows"]
        lines = doorwright("show", book, what).out.strip().splitlines()
        assert len(lines) >= len(rows) + 2, what  # the title, the headings, and a line or more a row


def test_tables_of_the_example_hold_what_its_page_says(doorwright: Doorwright, book: Path) -> None:
    # counts from examples/medium/README.md
    def count(what: str) -> int:
        return len(doorwright("show", book, what, "--json").json["rows"])

    assert count("dwellings") == 64
    assert count("entrances") == 5
    assert count("doors") == 7
    assert count("switches") == 6
    assert count("supplies") == 4
    assert count("units") == 64 + 8 + 5 + 1
    assert count("pairings") == count("units")
    assert count("waivers") == 0


def test_secrets_are_printed_by_reveal_alone(
    doorwright: Doorwright, filled: dict[str, str], book: Path, passphrase_file: Path, tmp_path: Path
) -> None:
    with Book.open(book, read_only=True) as opened:
        secrets = set(opened_secrets(opened, PASSPHRASE).values())
    assert len(secrets) > 100
    printed = ""
    for arguments in COMMANDS:
        if arguments[0] != "template":
            for json_too in ([], ["--json"]):
                (tmp_path / "new.book").unlink(missing_ok=True)
                for made in tmp_path.glob("tallow.*"):
                    if made != book and made.suffix == ".xlsx":
                        with zipfile.ZipFile(made) as parts:
                            printed += "".join(parts.read(name).decode(errors="replace") for name in parts.namelist())
                    if made != book:
                        printed += made.read_text(encoding="utf-8", errors="replace")
                        made.unlink()
                ran = doorwright(*(filled.get(word, word) for word in arguments), *json_too)
                assert ran.code in (0, 1) or arguments[0] == "waive", ran.err  # there is nothing left to waive twice
                printed += ran.out + ran.err
    assert "Gate panel" in printed
    assert [secret for secret in secrets if secret in printed] == []
    assert PASSPHRASE not in printed

    revealed = doorwright("vault", book, "reveal", "panel a", "--passphrase-file", passphrase_file)
    assert sum(secret in revealed.out for secret in secrets) == 2  # its device secret and its SIP secret


def test_a_survey_cannot_steer_the_terminal(doorwright: Doorwright, tmp_path: Path) -> None:
    survey = tmp_path / "survey"
    survey.mkdir()
    names = 'Dwelling,Core,Level\n"1 \x1b[31m[red] :warning: \x9b2J",A,Ground\n'
    (survey / "Dwellings.csv").write_text(names, encoding="utf-8")
    ran = doorwright("new", tmp_path / "odd.book", "--from", survey)
    shown = doorwright("show", tmp_path / "odd.book", "dwellings")
    diff = doorwright("diff", tmp_path / "odd.book", 1, 1)
    assert ran.code == shown.code == diff.code == 0, ran.err
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", ran.out + shown.out)
    assert "1 ␛[31m[red] :warning: \ufffd2J" in shown.out


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_a_pipe_gets_utf_8_whatever_the_system_speaks(tmp_path: Path, encoding: str) -> None:
    survey = tmp_path / "survey"
    survey.mkdir()
    (survey / "Dwellings.csv").write_text("Dwelling,Core,Level\nדירה 1,A,Ground\n", encoding="utf-8")
    environment = {**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    book = str(tmp_path / "new.book")
    for arguments in (["new", book, "--from", str(survey)], ["show", book, "dwellings", "--json"]):
        command = [sys.executable, "-m", "doorwright", *arguments]
        done = subprocess.run(command, env=environment, capture_output=True, check=True)
    assert json.loads(done.stdout.decode("utf-8"))["rows"][0]["dwelling"] == "דירה 1"


def test_check_tells_what_waits_and_for_what(doorwright: Doorwright, book: Path) -> None:
    found = doorwright("check", book, "--json").json
    missing = {row["missing"]: row for row in found["not_checked"]}
    # the example leaves open whether the garage door is on an escape route: examples/medium/README.md
    assert "escape route of door" in missing
    assert len(missing["escape route of door"]["parts"]) == 1
    assert found["by_severity"]["error"] == len([row for row in found["findings"] if row["severity"] == "error"])
    text = doorwright("check", book).out
    assert "Could not be checked, by what is missing" in text
    assert f"Checked {found['checked']}, failed {len(found['findings'])}, waived 0, could not check" in text


def test_a_waived_finding_is_told_apart(doorwright: Doorwright, book: Path) -> None:
    waive = ["waive", book, "control-out-of-reach", "uru 22", "--by", "A. Warden", "--reason", "asked for"]
    assert doorwright(*waive, "--until", "2999-12-31").code == 0
    found = doorwright("check", book, "--rule", "control-out-of-reach", "--fail-on", "note", "--json")
    assert found.code == 0
    (waived,) = found.json["waived"]
    assert (waived["waiver"]["by"], waived["waiver"]["reason"]) == ("A. Warden", "asked for")
    assert doorwright("show", book, "waivers", "--json").json["rows"][0]["on"] == "URU 22"
