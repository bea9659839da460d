"""History, differences, and taking the data elsewhere and back."""

import json
from pathlib import Path

import jsonschema
import pytest

from doorwright.store import codec
from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright


def test_history_says_who_why_and_what(doorwright: Doorwright, book: Path) -> None:
    revisions = doorwright("history", book, "--json").json
    assert [(one["number"], one["made_by"]) for one in revisions] == [(1, "Survey"), (2, "Planner")]
    assert revisions[0]["message"] == "new from medium.xlsx"
    text = doorwright("history", book).out
    assert "Planner" in text
    assert "dwelling: 64 added" in text


def test_diff_says_what_planning_changed_in_words(doorwright: Doorwright, book: Path) -> None:
    rows = doorwright("diff", book, 1, 2, "--json").json
    registrars = [row for row in rows if row["what"] == "registrar"]
    assert registrars
    names = {row["unit"] for row in doorwright("show", book, "units", "--json").json["rows"]}
    assert {row["after"] for row in registrars} <= names
    assert {row["before"] for row in registrars} == {""}
    back = doorwright("diff", book, 2, 1, "--json").json
    assert len(back) == len(rows)
    assert "Revisions 2 and 2 are alike." in doorwright("diff", book, 2, 2).out


def test_planning_again_changes_nothing(doorwright: Doorwright, book: Path, passphrase_file: Path) -> None:
    ran = doorwright("plan", book, "--passphrase-file", passphrase_file, "--json").json
    assert ran["issues"] == []
    assert ran["revision"] == 2
    assert len(doorwright("history", book, "--json").json) == 2


def test_an_exported_document_fits_its_schema_and_is_the_site(
    doorwright: Doorwright, book: Path, tmp_path: Path
) -> None:
    out = tmp_path / "site.json"
    assert doorwright("export", book, "--format", "json", "--out", out).code == 0
    jsonschema.validate(json.loads(out.read_bytes()), codec.document_schema())
    with Book.open(book, read_only=True) as opened:
        assert codec.load(out.read_bytes()) == opened.site()


def test_an_earlier_revision_can_be_exported(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    out = tmp_path / "first.json"
    assert doorwright("export", book, "--format", "json", "--out", out, "--revision", 1).code == 0
    with Book.open(book, read_only=True) as opened:
        assert codec.load(out.read_bytes()) == opened.site(1)


def test_an_exported_workbook_imported_again_changes_nothing(
    doorwright: Doorwright, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(book.parent)
    assert doorwright("export", book, "--format", "xlsx").code == 0
    ran = doorwright("import", book, book.with_suffix(".xlsx"))
    assert ran.code == 0
    assert "Nothing differs; revision 2 stands." in ran.out
    assert len(doorwright("history", book, "--json").json) == 2


def test_an_import_changes_what_it_names_and_nothing_else(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    changes = tmp_path / "changes"
    changes.mkdir()
    (changes / "Units.csv").write_text("Name,Type,Height (mm)\nURU 22,uru-video,1150\n", encoding="utf-8")
    assert doorwright("import", book, changes, "--by", "A. Fitter").code == 0
    (row,) = doorwright("diff", book, 2, 3, "--json").json
    assert (row["part"], row["what"], row["before"], row["after"]) == ("URU 22", "height mm", "1400", "1150")
    assert doorwright("history", book, "--json").json[-1]["made_by"] == "A. Fitter"
