"""The reference pages of the book and the vault, read back: their tables are the tables, their programs work."""

import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from doorwright.store.book import Book
from doorwright.store.tables import METADATA

PAGES = Path(__file__).parents[3] / "docs" / "reference"
BOOK_PAGE = (PAGES / "book-format.md").read_text(encoding="utf-8")
VAULT_PAGE = (PAGES / "vault-format.md").read_text(encoding="utf-8")
STORED = Path(__file__).parent / "books" / "schema-1.sql"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with closing(sqlite3.connect(tmp_path / "wharf.book")) as made:
        made.executescript(STORED.read_text(encoding="utf-8"))
    Book.open(tmp_path / "wharf.book").close()  # lifts it to the present schema
    return tmp_path


def program(page: str) -> str:
    (source,) = re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    return str(source)


def run(source: str, folder: Path, typed: str = "") -> str:
    done = subprocess.run(
        [sys.executable, "-c", source], cwd=folder, input=typed, capture_output=True, text=True, check=True
    )
    return done.stdout


def test_every_table_and_column_is_on_the_page_in_its_order(folder: Path) -> None:
    sections = dict(re.findall(r"^### (\w+)\n(.*?)(?=^##)", BOOK_PAGE, re.DOTALL | re.MULTILINE))
    documented = {
        name: [
            (column, kind, null)
            for column, kind, null in re.findall(
                r"^\| `(\w+)` \| (\w+(?:\(32\))?)[^|]*\| ([^|]+) \|", text, re.MULTILINE
            )
        ]
        for name, text in sections.items()
    }

    assert set(documented) == set(METADATA.tables)
    with closing(sqlite3.connect(folder / "wharf.book")) as book:
        for name, columns in documented.items():
            found = [(row[1], row[2], row[3] == 0) for row in book.execute(f"PRAGMA table_info({name})")]
            assert [(column, kind, null != "no") for column, kind, null in columns] == found


def test_the_page_s_program_reads_a_book(folder: Path) -> None:
    # The two dwellings of documents/form-1.json.
    assert run(program(BOOK_PAGE), folder).splitlines() == ["Flat 1 0001", "Flat 2½ 0101"]


def test_the_page_s_program_opens_a_vault(folder: Path) -> None:
    shown = run(program(VAULT_PAGE), folder, "seven grey herons wade\n")

    assert shown == "passphrase: s1 first-secret\n"


def test_the_header_s_rows_follow_each_other_without_a_gap() -> None:
    section = VAULT_PAGE.split("## Header: 114 bytes")[1].split("##")[0]
    rows = [(int(offset), int(count)) for offset, count in re.findall(r"^\| (\d+) \| (\d+) \|", section, re.MULTILINE)]

    assert rows[0][0] == 0
    assert [offset + count for offset, count in rows] == [*(offset for offset, _ in rows[1:]), 114]
