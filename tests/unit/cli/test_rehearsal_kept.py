"""What a book keeps of a rehearsal, and planned, rehearsed and found side by side, on the medium example."""

from pathlib import Path

import pytest

from doorwright.kernel.observation import Stage
from doorwright.model.rehearsed import kept_of
from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright

# The medium example by its README: 84 units and switches, of which six switches; the other 78 are rehearsed.
REHEARSED_COUNT = 78


def kept_count(book: Path) -> int:
    with Book.open(book, read_only=True) as opened:
        return sum(one.stage is Stage.REHEARSED for one in opened.observations())


def test_a_rehearsal_is_kept_and_the_same_again_adds_one_line(doorwright: Doorwright, book: Path) -> None:
    first = doorwright("rehearse", book, "--by", "A. Planner", "--json")
    assert first.json["otherwise"] == []
    gained = first.json["kept"]["new"]
    assert gained == kept_count(book) == len(first.json["observations"]) + 1  # and the line that says of which revision
    again = doorwright("rehearse", book, "--seed", "2")
    assert "Kept in the book as its latest rehearsal, with 1 new observation." in again.out
    assert kept_count(book) == gained + 1
    with Book.open(book, read_only=True) as opened:
        kept = kept_of(opened.observations())
    assert kept is not None
    assert {one.seen_by for there in kept.seen.values() for one in there.values()} == {"A. Planner"}
    assert sum(subject.kind == "unit" for subject in kept.seen) == REHEARSED_COUNT
    told = doorwright("history", book, "--trail").out
    assert "rehearsed the building" in told
    assert f"revision 2, {first.json['calls']} of {first.json['calls']} calls as proved, seed 2" in told


def test_faults_are_kept_when_told_and_gone_with_the_next_rehearsal(doorwright: Doorwright, book: Path) -> None:
    fault = ("--fault", "wrong-secret:URU 12")
    assert "Not kept in the book: faults were put in" in doorwright("rehearse", book, *fault).out
    assert kept_count(book) == 0
    assert doorwright("rehearse", book, *fault, "--keep").code == 1
    compared = doorwright("found", book, "--json").json
    assert "SIP secret differs at URU 12" in compared["rehearsal"]["conditions"]
    lines = {(one["part"]["label"], one["aspect"]): one for one in compared["differences"]}
    line = lines["URU 12", "registered"]
    assert (line["planned"], line["rehearsed"], line["found"], line["differs"]) == ("yes", "no", None, ["rehearsed"])
    calls = [one for (_, aspect), one in lines.items() if aspect.startswith("call: ")]
    assert calls
    assert all(one["rehearsed"] == "nothing rang" and "registered" in one["to_do"] for one in calls)

    doorwright("rehearse", book)
    after = doorwright("found", book, "--json").json
    assert after["differences"] == []
    assert after["rehearsal"]["calls"] == after["rehearsal"]["as_proved"]


def test_it_is_not_kept_when_told_so(doorwright: Doorwright, book: Path) -> None:
    before = book.read_bytes()
    assert "Not kept in the book: as you said." in doorwright("rehearse", book, "--no-keep").out
    assert book.read_bytes() == before


def test_a_later_plan_makes_it_stale(doorwright: Doorwright, book: Path, passphrase_file: Path) -> None:
    assert "Nothing was found yet" in doorwright("found", book).out
    doorwright("rehearse", book)
    fresh = doorwright("found", book)
    assert "Rehearsed at revision 2" in fresh.out
    assert "rehearse again" not in fresh.out
    # a dwelling is given up: its calls were rehearsed and are planned no more
    gone = doorwright("change", book, "remove-dwelling", "51", "--passphrase-file", passphrase_file)
    assert gone.code == 0, gone.err
    stale = doorwright("found", book, "--json").json
    assert (stale["revision"], stale["rehearsal"]["revision"], stale["rehearsal"]["is_stale"]) == (3, 2, True)
    assert "The plan is at 3: rehearse again." in doorwright("found", book).out
    doorwright("rehearse", book)
    with Book.open(book, read_only=True) as opened:
        kept, site = kept_of(opened.observations()), opened.site()
    assert kept is not None
    assert kept.head.revision == 3
    assert {subject.id for subject in kept.seen} <= {unit.id for unit in site.units}


def test_rehearsed_stands_beside_found(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    settings = tmp_path / "settings.csv"
    settings.write_text("Device;IP\nPanel A;192.0.2.99\n", encoding="utf-8")
    mapped = ("--as", "units", "--map", "unit=Device", "--map", "address=IP")
    doorwright("found", book, settings, *mapped)
    (alone,) = doorwright("found", book, "--json").json["differences"]
    assert alone["rehearsed"] is None
    doorwright("rehearse", book)
    (line,) = doorwright("found", book, "--json").json["differences"]
    # Panel A is planned at 192.0.2.18 (doorwright show BOOK addresses), and was rehearsed there
    assert (line["planned"], line["rehearsed"], line["found"]) == ("192.0.2.18", "192.0.2.18", "192.0.2.99")
    assert line["differs"] == ["found"]
    assert "at Panel A enter IP address 192.0.2.18" in line["to_do"]


@pytest.mark.parametrize("flag", ["--keep", "--no-keep"])
def test_a_book_that_may_only_be_read_is_refused_before_anything_is_rehearsed(
    doorwright: Doorwright, book: Path, monkeypatch: pytest.MonkeyPatch, flag: str
) -> None:
    def nothing(*_: object, **__: object) -> None:
        raise AssertionError("it was rehearsed")

    if flag == "--keep":
        monkeypatch.setattr("doorwright.app.rehearse_book.rehearse_in_parts", nothing)
    book.write_bytes(b"no book")
    ran = doorwright("rehearse", book, flag)
    assert ran.code == 2
