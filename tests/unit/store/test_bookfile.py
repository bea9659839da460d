import os
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from doorwright.kernel.errors import Refused
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.store import bookfile, migrations
from doorwright.store.book import Book

AT = datetime(2031, 3, 5, 14, 7, tzinfo=UTC)
SITE = Site(name="Invented Wharf")
BOOKS = Path(__file__).parent / "books"


@pytest.fixture
def book_path(tmp_path: Path) -> Path:
    place = tmp_path / "wharf 100% #1?.book"  # characters that a URI would take for its own
    Book.create(place, SITE, by="A", at=AT, message="").close()
    return place


def save(book: Book, name: str = "Second") -> None:
    book.save(replace(SITE, name=name), parent=1, by="B", at=AT, message="")


def large() -> Site:
    """A site whose document does not shrink below some hundred kilobytes: its identifiers have no pattern."""
    dwellings = tuple(
        Dwelling(
            id=f"{number * 2654435761 % 2**32:08x}{number * 40503**3 % 2**61:x}",
            door_label=str(number),
            core="c",
            level="l",
        )
        for number in range(20_000)
    )
    return replace(SITE, dwellings=dwellings)


@contextmanager
def powerless(folder: Path) -> Iterator[None]:
    """Act as a user whom file modes bind, who may enter ``folder``. Root is bound by none, so root becomes another."""
    if not hasattr(os, "geteuid"):
        pytest.skip("this system has no file modes")
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        if not os.access(folder, os.X_OK, effective_ids=True):
            pytest.skip("the other user cannot enter the test's folder")
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user of the machine can enter, which pytest's own is not."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder
        folder.chmod(0o755)


# the file


def test_a_book_is_one_file_that_says_what_it_is(book_path: Path) -> None:
    with Book.open(book_path) as book:
        save(book)
        assert [entry.name for entry in book_path.parent.iterdir()] == [book_path.name]

    # The SQLite file format, §1.3: user version at byte 60, application id at byte 68, both big-endian;
    # 1 at bytes 18 and 19 is the rollback journal.
    header = book_path.read_bytes()[:100]
    assert header[:16] == b"SQLite format 3\0"
    assert header[18:20] == b"\x01\x01"
    assert int.from_bytes(header[60:64], "big") == 3
    assert header[68:72] == b"Dwrt"


def test_every_connection_is_durable_and_checks_references(book_path: Path) -> None:
    with Book.open(book_path) as book, book._engine.connect() as connection:
        values = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "secure_delete")
        }

    # The documentation of PRAGMA synchronous: the value 3 means EXTRA.
    assert values == {"journal_mode": "delete", "synchronous": 3, "foreign_keys": 1, "secure_delete": 1}


@pytest.mark.parametrize("journal", ["wal", "truncate"])
def test_a_book_that_another_tool_gave_side_files_loses_them(book_path: Path, journal: str) -> None:
    with closing(sqlite3.connect(book_path)) as other:
        other.execute(f"PRAGMA journal_mode = {journal}")
    with Book.open(book_path) as book:
        save(book)

    assert [entry.name for entry in book_path.parent.iterdir()] == [book_path.name]
    assert book_path.read_bytes()[18:20] == b"\x01\x01"


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE revision SET message = 'x'",
        "DELETE FROM revision",
        "INSERT OR REPLACE INTO revision SELECT 1, NULL, made_at, 'x', '', form, tallies, document FROM revision",
        "INSERT INTO revision SELECT 3, 1, made_at, 'x', '', form, tallies, document FROM revision",
        "INSERT INTO revision SELECT 2, NULL, made_at, 'x', '', form, tallies, document FROM revision",
        "UPDATE observation SET value = 'x'",
        "DELETE FROM observation",
        "INSERT OR REPLACE INTO observation VALUES (1, 'n', 'found', 'door', 'o', 'a', 'x', '', '', NULL)",
        "INSERT OR REPLACE INTO observation VALUES (2, 'o1', 'found', 'door', 'o', 'a', 'x', '', '', NULL)",
        "UPDATE waiver SET until = '2099-01-01'",
        "DELETE FROM waiver",
        "UPDATE waiver_end SET ended_by = 'x'",
        "DELETE FROM waiver_end",
        "UPDATE column_map SET columns = '[1]'",
        "DELETE FROM column_map",
        "INSERT OR REPLACE INTO column_map VALUES (1, 'm', '[1]', 'x', '')",
        "UPDATE sign_off SET until = '2099-01-01'",
        "DELETE FROM sign_off",
        "INSERT OR REPLACE INTO sign_off SELECT 2, id, 's', '', '', 'n', 'r', '', NULL, 'x' FROM sign_off",
        "UPDATE artefact SET sha256 = 'x'",
        "DELETE FROM artefact",
        "UPDATE attachment SET content = x'00'",
        "DELETE FROM attachment",
        "INSERT OR REPLACE INTO attachment VALUES ('a1', 'image/png', x'00')",
        "UPDATE work SET value = 'x'",
        "DELETE FROM work",
        "INSERT OR REPLACE INTO work VALUES (2, 'k1', 't', 'note', 'x', NULL, NULL, '', '', 'x', NULL)",
        "INSERT OR REPLACE INTO work VALUES (1, 'k2', 't', 'note', 'x', NULL, NULL, '', '', 'x', NULL)",
        "UPDATE trail SET about = 'x'",
        "DELETE FROM trail",
        "INSERT OR REPLACE INTO trail VALUES (1, '', 'x', 'x', 'x')",
        "UPDATE vault_entry SET sealed = x'00'",
        "DELETE FROM vault_entry",
        "INSERT OR REPLACE INTO vault_entry VALUES ('s1', 1, x'00')",
    ],
)
def test_no_tool_rewrites_what_has_happened(book_path: Path, statement: str) -> None:
    with closing(sqlite3.connect(book_path)) as other:
        other.execute("INSERT INTO observation VALUES (1, 'o1', 'found', 'door', 'o', 'a', 'v', '', '', NULL)")
        other.execute("INSERT INTO waiver VALUES (1, 'w1', 'r', '[]', 'x', 'x', '2031-01-01', '2031-02-01')")
        other.execute("INSERT INTO waiver_end VALUES ('w1', 'x', '2031-01-02')")
        other.execute("INSERT INTO column_map VALUES (1, 'm', '[]', 'x', '')")
        other.execute("INSERT INTO sign_off VALUES (1, 's1', 's', 'site', '', 'n', 'r', '2031-01-01', NULL, 'x')")
        other.execute("INSERT INTO artefact VALUES (1, 1, 'n', 'text/plain', 0, '', '')")
        other.execute("INSERT INTO attachment VALUES ('a1', 'image/png', x'01')")
        other.execute("INSERT INTO work VALUES (1, 'k1', 't', 'photograph', '', NULL, 'a1', '', '', 'x', NULL)")
        other.execute("INSERT INTO trail VALUES (1, '', 'x', 'took out papers', '')")
        other.execute("INSERT INTO vault_entry VALUES ('s1', 1, x'01')")
        with pytest.raises(sqlite3.IntegrityError, match="is append-only"):
            other.execute(statement)


def test_a_book_of_schema_1_opens(tmp_path: Path) -> None:
    # books/schema-1.sql is a book as the first Doorwright wrote it, as text.
    book_path = tmp_path / "old.book"
    with closing(sqlite3.connect(book_path)) as made:
        made.executescript((BOOKS / "schema-1.sql").read_text(encoding="utf-8"))

    for read_only in (True, False):
        with Book.open(book_path, read_only=read_only) as book:
            assert [(r.number, r.made_by, r.message) for r in book.revisions()] == [
                (1, "A. Tester", "survey"),
                (2, "B. Tester", "renamed"),
            ]
            assert book.site().name == "Renamed Wharf"
            assert book.site(1).doors[0].name == "Main leaf"
            assert [seen.value for seen in book.observations()] == ["no", "yes"]
            assert book.waivers()[0].reason == "the owner wants it longer"
            assert [end.by for end in book.waiver_ends()] == ["A. Tester"]
            assert book.artefacts()[0].name == "cards.pdf"
            vault = book.vault()
            assert vault is not None
            assert vault.unlock("seven grey herons wade").reveal("s1", book.sealed()["s1"]) == "first-secret"
            assert book.verify() == ()


def test_a_lifted_book_has_the_tables_of_a_new_one(tmp_path: Path, book_path: Path) -> None:
    lifted = tmp_path / "old.book"
    with closing(sqlite3.connect(lifted)) as made:
        made.executescript((BOOKS / "schema-1.sql").read_text(encoding="utf-8"))
    Book.open(lifted).close()

    def laid_out(place: Path) -> set[tuple[str, str]]:
        with closing(sqlite3.connect(place)) as book:
            found = book.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
            return {(name, "".join(sql.split()).casefold()) for name, sql in found}

    assert laid_out(lifted) == laid_out(book_path)


@pytest.fixture
def next_schema(book_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    steps = ("ALTER TABLE artefact ADD COLUMN place TEXT", "UPDATE vault_header SET header = header")
    lifts = {bookfile.SCHEMA: steps}
    monkeypatch.setattr(bookfile, "SCHEMA", bookfile.SCHEMA + 1)
    monkeypatch.setattr(bookfile, "schema_statements", lambda found, to: migrations.schema_statements(found, to, lifts))


@pytest.mark.usefixtures("next_schema")
def test_an_older_book_is_lifted_when_opened_for_writing(book_path: Path) -> None:
    with Book.open(book_path) as book:
        save(book)
        assert book.site(1) == SITE

    with closing(sqlite3.connect(book_path)) as other:
        assert other.execute("PRAGMA user_version").fetchone() == (bookfile.SCHEMA,)
        assert "place" in [row[1] for row in other.execute("PRAGMA table_info(artefact)")]


@pytest.mark.usefixtures("next_schema")
def test_an_older_book_opened_for_reading_stays_as_it_is(book_path: Path) -> None:
    before = book_path.read_bytes()
    with Book.open(book_path, read_only=True) as book, book._engine.connect() as connection:
        assert book.site() == SITE
        assert "place" in [row[1] for row in connection.exec_driver_sql("PRAGMA table_info(artefact)")]

    assert book_path.read_bytes() == before


def test_a_lift_that_fails_leaves_the_book_as_it_was(book_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bookfile, "SCHEMA", bookfile.SCHEMA + 1)
    steps = ("ALTER TABLE artefact ADD COLUMN place TEXT", "NO SQL AT ALL")
    monkeypatch.setattr(bookfile, "schema_statements", lambda found, to: steps)
    before = book_path.read_bytes()

    with pytest.raises(sqlite3.OperationalError, match="syntax"):
        Book.open(book_path)
    assert book_path.read_bytes() == before


# what is no book


def foreign_database(book_path: Path) -> None:
    with closing(sqlite3.connect(book_path)) as other:
        other.execute("CREATE TABLE album (title TEXT)")


def cut(length: int) -> Callable[[Path], None]:
    def spoil(book_path: Path) -> None:
        Book.create(book_path, SITE, by="A", at=AT, message="").close()
        with book_path.open("r+b") as file:
            file.truncate(length)

    return spoil


def overwritten(start: int, spoilt: bytes) -> Callable[[Path], None]:
    def spoil(book_path: Path) -> None:
        Book.create(book_path, SITE, by="A", at=AT, message="").close()
        with book_path.open("r+b") as file:
            file.seek(start)
            file.write(spoilt)

    return spoil


def without_table(book_path: Path) -> None:
    Book.create(book_path, SITE, by="A", at=AT, message="").close()
    with closing(sqlite3.connect(book_path)) as other:
        other.execute("DROP TABLE artefact")


def version(number: int) -> Callable[[Path], None]:
    return overwritten(60, number.to_bytes(4, "big"))


@pytest.mark.parametrize("read_only", [False, True])
@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda book_path: None, "there is no book at"),
        (lambda book_path: book_path.mkdir(), "is not a Doorwright book: it is a folder"),
        (lambda book_path: book_path.touch(), "is not a Doorwright book: it is empty"),
        (
            lambda book_path: book_path.write_text("Flat 1;Flat 2\n" * 99),
            "is not a Doorwright book: it is a file of another kind",
        ),
        (
            lambda book_path: book_path.write_bytes(b"PK\x03\x04"),
            "is not a Doorwright book: it is a file of another kind",
        ),
        (foreign_database, "is not a Doorwright book: it is the database of another program"),
        (cut(40), "is damaged: it breaks off after 40 bytes"),
        (cut(100), "is damaged"),
        (cut(4096), "is damaged"),
        (cut(20_000), "is damaged"),
        (overwritten(100, b"\xff" * 3000), "is damaged"),
        (without_table, "is damaged: it has no table artefact"),
        (version(0), "is damaged: it does not say which tables it has"),
        (version(99), "was written by a newer Doorwright .schema 99; this one knows 3."),
    ],
)
def test_what_is_no_book_is_refused_with_a_reason(
    tmp_path: Path, make: Callable[[Path], Any], message: str, read_only: bool
) -> None:
    book_path = tmp_path / "thing.book"
    make(book_path)
    before = book_path.read_bytes() if book_path.is_file() else None

    with pytest.raises(Refused, match=message) as caught:
        Book.open(book_path, read_only=read_only)

    assert caught.value.remedy
    assert (book_path.read_bytes() if book_path.is_file() else None) == before


def test_a_pipe_is_no_book(tmp_path: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no named pipes")
    os.mkfifo(tmp_path / "pipe")

    with pytest.raises(Refused, match="no plain file"):
        Book.open(tmp_path / "pipe")


def test_a_newer_document_in_a_book_is_refused(book_path: Path) -> None:
    import zlib

    packed = zlib.compress(b'{"form":99,"site":{"name":"x"}}')
    with closing(sqlite3.connect(book_path)) as other, other:
        other.execute(
            "INSERT INTO revision SELECT 2, 1, made_at, made_by, '', 99, tallies, ? FROM revision WHERE number = 1",
            (packed,),
        )

    with Book.open(book_path) as book:
        with pytest.raises(Refused, match="form 99"):
            book.site()
        assert book.site(1) == SITE  # the older revision still opens


def test_damage_inside_is_told_and_the_rest_still_opens(book_path: Path) -> None:
    with closing(sqlite3.connect(book_path)) as other, other:
        other.execute("INSERT INTO revision SELECT 2, 1, made_at, made_by, '', 1, tallies, x'78DA00' FROM revision")

    with Book.open(book_path) as book:
        with pytest.raises(Refused, match="the document of revision 2 cannot be unpacked"):
            book.site()
        assert book.site(1) == SITE
        assert [mistake.where for mistake in book.verify()] == ["revision 2"]


def test_a_page_spoilt_in_the_middle_is_told(tmp_path: Path) -> None:
    book_path = tmp_path / "big.book"
    Book.create(book_path, large(), by="A", at=AT, message="").close()
    size = book_path.stat().st_size
    with book_path.open("r+b") as file:
        file.seek(size // 2)
        file.write(b"\xa5" * 8192)

    with Book.open(book_path) as book:
        with pytest.raises(Refused, match="is damaged"):
            book.site()
        assert book.head().number == 1
        assert book.verify() != ()


# making a book


def test_nothing_is_overwritten(book_path: Path, tmp_path: Path) -> None:
    before = book_path.read_bytes()
    with pytest.raises(Refused, match="is there already; nothing was overwritten"):
        Book.create(book_path, Site(name="Other"), by="B", at=AT, message="")
    assert book_path.read_bytes() == before

    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    with pytest.raises(Refused, match="is there already"):
        Book.create(tmp_path / "dangling", SITE, by="B", at=AT, message="")


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_appears_meanwhile_is_not_overwritten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    book_path = tmp_path / "wharf.book"
    if not links:
        monkeypatch.setattr(Path, "hardlink_to", refuse_links)
    real = bookfile._put

    def late(draft: Path, target: Path) -> None:
        target.write_text("somebody else's")
        real(draft, target)

    monkeypatch.setattr(bookfile, "_put", late)
    with pytest.raises(Refused, match="is there already"):
        Book.create(book_path, SITE, by="A", at=AT, message="")

    assert book_path.read_text() == "somebody else's"
    assert [entry.name for entry in tmp_path.iterdir()] == ["wharf.book"]


def refuse_links(self: Path, target: Path) -> None:
    raise PermissionError(1, "Operation not permitted")  # what Linux answers for a FAT stick


def test_a_file_system_without_links_holds_a_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Path, "hardlink_to", refuse_links)

    with Book.create(tmp_path / "stick.book", SITE, by="A", at=AT, message="") as book:
        assert book.site() == SITE
    assert [entry.name for entry in tmp_path.iterdir()] == ["stick.book"]


def test_a_book_needs_its_folder(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="there is no folder"):
        Book.create(tmp_path / "none" / "wharf.book", SITE, by="A", at=AT, message="")
    with pytest.raises(Refused, match="cannot be made"):
        Book.create(tmp_path / ("n" * 300), SITE, by="A", at=AT, message="")
    assert list(tmp_path.iterdir()) == []


def test_a_refused_first_revision_leaves_no_file(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="nobody is named"):
        Book.create(tmp_path / "wharf.book", SITE, by="", at=AT, message="")
    assert list(tmp_path.iterdir()) == []


# the disk


def limit_pages(book: Book, spare: int) -> None:
    """Give the book a disk with room for ``spare`` more pages: SQLite reports SQLITE_FULL beyond."""

    def limit(connection: sqlite3.Connection, _: object) -> None:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages + spare}")

    event.listen(book._engine, "connect", limit)


@pytest.mark.parametrize("spare", [0, 1, 20])
def test_a_full_disk_loses_nothing(book_path: Path, spare: int) -> None:
    with Book.open(book_path) as book:
        limit_pages(book, spare)
        with pytest.raises(Refused, match="is full; nothing was saved") as caught:
            book.save(large(), parent=1, by="B", at=AT, message="")
        assert "space" in caught.value.remedy
        assert book.head().number == 1
        assert book.site() == SITE
        assert book.verify() == ()

    with Book.open(book_path) as again:  # with room again, the same save goes through
        assert again.save(large(), parent=1, by="B", at=AT, message="").number == 2


def test_a_disk_that_stops_in_the_middle_loses_nothing(book_path: Path) -> None:
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    with Book.open(book_path) as book:
        size = book_path.stat().st_size
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 50_000, hard))
        try:
            with pytest.raises(Refused, match="what was saved before is still there"):
                book.save(large(), parent=1, by="B", at=AT, message="")
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        assert book.head().number == 1
        assert book.verify() == ()
    assert [entry.name for entry in book_path.parent.iterdir()] == [book_path.name]


@pytest.mark.parametrize(("code", "message"), [(28, "is full"), (30, "cannot be written"), (5, "cannot be made")])
def test_a_disk_that_refuses_the_name_leaves_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, message: str
) -> None:
    def refuse(draft: Path, target: Path) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(bookfile, "_put", refuse)
    with pytest.raises(Refused, match=message):
        Book.create(tmp_path / "wharf.book", SITE, by="A", at=AT, message="")
    assert list(tmp_path.iterdir()) == []


def test_a_read_only_file_opens_for_reading(open_folder: Path) -> None:
    book_path = open_folder / "wharf.book"
    Book.create(book_path, SITE, by="A", at=AT, message="").close()
    book_path.chmod(0o444)
    open_folder.chmod(0o777)

    with powerless(open_folder):
        with pytest.raises(Refused, match="read-only"):
            Book.open(book_path)
        with Book.open(book_path, read_only=True) as book:
            assert book.site() == SITE


def test_a_read_only_folder_opens_for_reading(open_folder: Path) -> None:
    book_path = open_folder / "wharf.book"
    Book.create(book_path, SITE, by="A", at=AT, message="").close()
    book_path.chmod(0o666)
    open_folder.chmod(0o555)

    with powerless(open_folder):
        with pytest.raises(Refused, match="read-only"):
            Book.open(book_path)
        with Book.open(book_path, read_only=True) as book:
            assert book.site() == SITE
        with pytest.raises(Refused, match="cannot be written"):
            Book.create(open_folder / "other.book", SITE, by="A", at=AT, message="")
    assert [entry.name for entry in open_folder.iterdir()] == ["wharf.book"]


def test_a_book_that_becomes_read_only_while_open_refuses_to_save(open_folder: Path) -> None:
    book_path = open_folder / "wharf.book"
    Book.create(book_path, SITE, by="A", at=AT, message="").close()
    book_path.chmod(0o666)
    open_folder.chmod(0o777)

    with powerless(open_folder), Book.open(book_path) as book:
        os.seteuid(os.getuid())
        book_path.chmod(0o444)
        open_folder.chmod(0o555)
        if os.getuid() == 0:
            os.seteuid(65534)
        with pytest.raises(Refused, match="cannot be written"):
            save(book)
        assert book.head().number == 1


def test_a_file_that_may_not_be_read_is_refused(open_folder: Path) -> None:
    book_path = open_folder / "wharf.book"
    Book.create(book_path, SITE, by="A", at=AT, message="").close()
    book_path.chmod(0o000)

    with powerless(open_folder), pytest.raises(Refused, match="cannot be read"):
        Book.open(book_path, read_only=True)
    book_path.chmod(0o644)


def test_a_book_open_for_reading_saves_nothing(book_path: Path) -> None:
    with Book.open(book_path, read_only=True) as book, pytest.raises(Refused, match="open for reading only"):
        save(book)


def test_a_book_that_vanished_is_refused_and_not_made_anew(book_path: Path) -> None:
    with Book.open(book_path) as book:
        book_path.unlink()
        with pytest.raises(Refused):
            book.head()
    assert not book_path.exists()


# other programs


@pytest.fixture
def _impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bookfile, "BUSY_S", 0.01)


@pytest.mark.usefixtures("_impatient")
def test_another_writer_is_told_of_and_readers_go_on(book_path: Path) -> None:
    with Book.open(book_path) as book, closing(sqlite3.connect(book_path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(Refused, match="another program is writing to") as caught:
            save(book)
        assert "again" in caught.value.remedy
        assert book.site() == SITE
        other.execute("ROLLBACK")
        save(book)
        assert book.head().number == 2


@pytest.mark.usefixtures("_impatient")
def test_a_locked_book_cannot_be_opened_but_is_not_called_damaged(book_path: Path) -> None:
    with closing(sqlite3.connect(book_path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(Refused, match="another program is writing to"):
            Book.open(book_path)


@pytest.mark.usefixtures("_impatient")
def test_a_reader_who_holds_on_delays_the_save_and_nothing_is_half_done(book_path: Path) -> None:
    with Book.open(book_path) as book, closing(sqlite3.connect(book_path, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT * FROM revision").fetchall()
        with pytest.raises(Refused, match="another program"):
            save(book)
        reader.execute("ROLLBACK")
        assert book.head().number == 1
        save(book)


# a program stopped in the middle


@pytest.fixture
def interrupted(book_path: Path, tmp_path: Path) -> Path:
    """A book whose writer died after writing pages and before its commit: the journal lies beside it."""
    with closing(sqlite3.connect(book_path, isolation_level=None)) as writer:
        writer.execute("PRAGMA cache_size = 1")
        writer.execute("PRAGMA cache_spill = 1")
        writer.execute("BEGIN EXCLUSIVE")
        writer.execute("DROP TRIGGER revision_update")
        writer.execute("UPDATE revision SET message = 'half done'")
        writer.execute("INSERT INTO artefact VALUES (1, 1, ?, 'x', 0, '', '')", ("n" * 400_000,))
        copy = tmp_path / "copy"
        copy.mkdir()
        book = copy / book_path.name
        book.write_bytes(book_path.read_bytes())
        journal = book_path.with_name(f"{book_path.name}-journal")
        book.with_name(journal.name).write_bytes(journal.read_bytes())
        writer.execute("ROLLBACK")
    return book


@pytest.mark.parametrize("read_only", [False, True])
def test_an_interrupted_write_is_undone_when_the_book_is_opened(interrupted: Path, read_only: bool) -> None:
    assert len(list(interrupted.parent.iterdir())) == 2
    with Book.open(interrupted, read_only=read_only) as book:
        assert book.head().message == ""
        assert book.artefacts() == ()
        assert book.verify() == ()
    assert [entry.name for entry in interrupted.parent.iterdir()] == [interrupted.name]


def test_an_interrupted_write_that_cannot_be_undone_is_told(interrupted: Path, open_folder: Path) -> None:
    for entry in interrupted.parent.iterdir():
        moved = open_folder / entry.name
        moved.write_bytes(entry.read_bytes())
        moved.chmod(0o444)
    open_folder.chmod(0o555)

    with (
        powerless(open_folder),
        pytest.raises(Refused, match="was being written when its program was stopped") as caught,
    ):
        Book.open(open_folder / interrupted.name, read_only=True)
    assert f"{interrupted.name}-journal" in caught.value.remedy


def test_mistakes_of_our_own_are_not_dressed_up(book_path: Path) -> None:
    with pytest.raises(sqlite3.OperationalError, match="no such table"), bookfile.answers(book_path):
        sqlite3.connect(":memory:").execute("SELECT * FROM nowhere")
