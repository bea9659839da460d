"""A book under the worst that can befall it: its program killed at any moment, and two programs at once.

Here, and only here, waiting is part of the test: the moment of each kill is drawn from a seeded generator.
"""

import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.kernel.errors import Refused
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.store.book import Book

AT = datetime(2031, 3, 5, 14, 7, tzinfo=UTC)
KILLS = 25
SEED = 20310305

WRITER = """
import sys
from datetime import UTC, datetime
from dataclasses import replace
from pathlib import Path
from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.verdict import Subject
from doorwright.store.book import Book

at = datetime(2031, 3, 5, 14, 7, tzinfo=UTC)
there = Path(sys.argv[1])
with Book.open(there) as book:
    number = book.head().number
    site = book.site()
    print("ready", flush=True)
    while True:
        turned = (*site.dwellings[1:], site.dwellings[0])
        site = replace(site, name=f"state {number + 1}", dwellings=turned)
        number = book.save(site, parent=number, by="writer", at=at, message=f"state {number + 1}").number
        print("saved", number, flush=True)
        seen = Observation(id=f"seen {number}", stage=Stage.FOUND, subject=Subject("door", "o"), aspect="a",
                           value=str(number), seen_at=at, seen_by="writer")
        book.observe([seen])
        print("observed", number, flush=True)
"""

HOLDER = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("BEGIN IMMEDIATE")
print("ready", flush=True)
sys.stdin.readline()
"""


def start(program: str, book_path: Path) -> subprocess.Popen[str]:
    child = subprocess.Popen(
        [sys.executable, "-c", program, str(book_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "ready\n"
    return child


def dwellings(seed: int) -> tuple[Dwelling, ...]:
    """Enough of them, with identifiers of no pattern, that a revision fills some tens of pages."""
    drawn = random.Random(seed)  # noqa: S311  (a plan for a test, not a secret)
    return tuple(
        Dwelling(id=f"{drawn.getrandbits(96):024x}", door_label=f"Flat {number}", core="c", level="l")
        for number in range(2000)
    )


def state(first: Site, number: int) -> Site:
    """The site that the writer saves as revision ``number``: the first one's dwellings turned by one each time."""
    turn = (number - 1) % len(first.dwellings)
    return replace(first, name=f"state {number}", dwellings=first.dwellings[turn:] + first.dwellings[:turn])


@pytest.mark.skipif(sys.platform == "win32", reason="this system cannot kill a program without notice")
def test_whatever_was_confirmed_survives_being_killed_at_any_moment(tmp_path: Path) -> None:
    book_path = tmp_path / "wharf.book"
    first = Site(name="state 1", dwellings=dwellings(SEED))
    Book.create(book_path, first, by="A", at=AT, message="state 1").close()
    delays = random.Random(SEED)  # noqa: S311  (a plan for a test, not a secret)
    saved, observed, interrupted = 1, set[int](), 0

    for _ in range(KILLS):
        child = start(WRITER, book_path)
        time.sleep(delays.uniform(0.0, 0.25))
        child.send_signal(signal.SIGKILL)
        heard, _ = child.communicate()
        lines = [line.split() for line in heard.splitlines(keepends=True) if line.endswith("\n")]
        saved = max([saved, *(int(number) for word, number in lines if word == "saved")])
        observed |= {int(number) for word, number in lines if word == "observed"}
        interrupted += book_path.with_name("wharf.book-journal").exists()

        with Book.open(book_path) as book:
            head = book.head()
            # What was confirmed is there; at most one save more had reached the disk unheard.
            assert saved <= head.number <= saved + 1
            assert book.site() == state(first, head.number)
            assert book.site(saved) == state(first, saved)
            assert observed <= {int(seen.value) for seen in book.observations()}
            saved = head.number

    with closing(sqlite3.connect(book_path)) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    with Book.open(book_path) as book:
        assert book.verify() == ()
        assert [revision.message for revision in book.revisions()] == [f"state {n}" for n in range(1, saved + 1)]
        assert all(book.site(number) == state(first, number) for number in range(1, saved + 1))
        book.save(Site(name="last"), parent=saved, by="A", at=AT, message="")
    # A kill before the first sync leaves a journal that SQLite knows to be void; the next save clears it away.
    assert [entry.name for entry in tmp_path.iterdir()] == ["wharf.book"]
    assert saved > 5, "the writer was killed before it could save anything: the test shows nothing"
    assert interrupted > 0, "no kill fell into a write: the test shows nothing"


def test_of_two_programs_the_second_is_refused_and_overwrites_nothing(tmp_path: Path) -> None:
    book_path = tmp_path / "wharf.book"
    first = Site(name="state 1", dwellings=dwellings(SEED))
    with Book.create(book_path, first, by="A", at=AT, message="state 1") as book:
        child = start(WRITER, book_path)
        assert child.stdout is not None
        assert child.stdout.readline() == "saved 2\n"
        child.kill()
        child.communicate()

        with pytest.raises(Refused, match="was saved by writer at 2031-03-05 14:07:00 UTC since you opened revision 1"):
            book.save(replace(first, name="mine"), parent=1, by="B", at=AT, message="mine")

        head = book.head()
        assert head.made_by == "writer"
        assert book.site() == state(first, head.number)


def test_a_program_that_holds_the_book_is_told_of(tmp_path: Path) -> None:
    book_path = tmp_path / "wharf.book"
    with Book.create(book_path, Site(name="first"), by="A", at=AT, message="") as book:
        child = start(HOLDER, book_path)
        with pytest.raises(Refused, match="another program is writing to") as caught:
            book.save(Site(name="second"), parent=1, by="B", at=AT, message="")
        assert "Try again" in caught.value.remedy
        assert book.site() == Site(name="first")  # reading goes on meanwhile

        child.communicate("done\n")
        assert book.save(Site(name="second"), parent=1, by="B", at=AT, message="").number == 2
