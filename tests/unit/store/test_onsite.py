"""Work, photographs and the trail in a book: recorded once, corrected by new records, there again after opening."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.kernel.errors import Refused
from doorwright.kernel.trail import Act, Trace
from doorwright.kernel.work import Deed, Quantity, WorkRecord
from doorwright.model.site import Site
from doorwright.store.book import Book
from doorwright.store.photograph import photograph
from tests.unit.store.pictures import jpeg

AT = datetime(2031, 3, 5, 14, 7, tzinfo=UTC)
DONE = WorkRecord(id="record-1", task="test/call/v1", deed=Deed.DONE, done_at=AT, received_at=AT, by="Ada")
READ = replace(DONE, id="record-2", deed=Deed.READING, value="11.6", quantity=Quantity.LOCK_VOLTAGE)
PICTURE = photograph(jpeg())
SHOT = replace(DONE, id="record-3", deed=Deed.PHOTOGRAPH, value=PICTURE.sha256)


@pytest.fixture
def book_path(tmp_path: Path) -> Path:
    Book.create(tmp_path / "wharf.book", Site(name="Invented Wharf"), by="A", at=AT, message="").close()
    return tmp_path / "wharf.book"


def test_what_was_recorded_is_there_after_opening_again(book_path: Path) -> None:
    corrected = replace(READ, id="record-4", value="12.1", corrects=READ.id)
    with Book.open(book_path) as book:
        assert book.record_work((DONE, READ, SHOT, corrected), (PICTURE,)) == (DONE, READ, SHOT, corrected)
    with Book.open(book_path, read_only=True) as book:
        assert book.work().records == (DONE, READ, SHOT, corrected)
        assert book.work(since=2).records == (SHOT, corrected)
        assert (book.work().last, book.work(since=4).last, book.work(since=4).records) == (4, 4, ())
        assert book.photograph(PICTURE.sha256) == PICTURE
        assert book.photograph("0" * 64) is None
        assert book.verify() == ()


def test_what_is_sent_twice_is_recorded_once(book_path: Path) -> None:
    with Book.open(book_path) as book:
        book.record_work((DONE, SHOT), (PICTURE,))
        later = replace(DONE, received_at=AT.replace(hour=20))
        assert book.record_work((later, SHOT), (PICTURE,)) == ()
        assert book.work().records == (DONE, SHOT)


def test_a_picture_shown_by_two_records_is_kept_once(book_path: Path) -> None:
    with Book.open(book_path) as book:
        again = replace(SHOT, id="record-5", task="test/call/v2")
        assert book.record_work((SHOT, again), (PICTURE,)) == (SHOT, again)
        assert book.record_work((replace(SHOT, id="record-6"),), (PICTURE,))
        with book._engine.connect() as connection:
            assert connection.exec_driver_sql("SELECT COUNT(*) FROM attachment").scalar() == 1


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        (replace(DONE, deed=Deed.NOT_DONE), "another record has this identifier"),
        (replace(DONE, id="short"), "no identifier"),
        (replace(DONE, id="x" * 65), "no identifier"),
        (replace(DONE, id="record/../1"), "no identifier"),
        (replace(DONE, id="record-9", corrects="record-8"), "not in the book"),
        (replace(DONE, id="record-9", corrects=DONE.id, task="test/call/v2"), "another task"),
        (replace(SHOT, id="record-9", value="0" * 64), "picture is missing"),
    ],
)
def test_what_cannot_be_recorded_is_refused_and_nothing_is(book_path: Path, wrong: WorkRecord, why: str) -> None:
    with Book.open(book_path) as book:
        book.record_work((DONE,))
        with pytest.raises(Refused) as caught:
            book.record_work((replace(READ, id="record-7"), SHOT, wrong), (PICTURE,))
        assert [why in str(one) for one in caught.value.mistakes] == [True]
        assert book.work().records == (DONE,)
        assert book.photograph(PICTURE.sha256) is None


def test_a_book_open_for_reading_records_nothing(book_path: Path) -> None:
    with Book.open(book_path, read_only=True) as book:
        with pytest.raises(Refused, match="reading only"):
            book.record_work((DONE,))
        with pytest.raises(Refused, match="reading only"):
            book.note_trail(Trace(at=AT, by="Ada", act=Act.PAPERS, about=""))


def test_the_trail_is_kept_in_order(book_path: Path) -> None:
    noted = [Trace(at=AT, by=who, act=Act.SECRETS_SHOWN, about="VCU 1 (line 4)") for who in ("Bo", "Ada")]
    with Book.open(book_path) as book:
        for one in noted:
            book.note_trail(one)
    with Book.open(book_path, read_only=True) as book:
        assert list(book.trail()) == noted
    assert str(noted[0]) == "Bo had secrets shown: VCU 1 (line 4)"
