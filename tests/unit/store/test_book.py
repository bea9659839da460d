from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from hashlib import sha256
from pathlib import Path

import pytest

from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.verdict import Subject
from doorwright.kernel.waiver import Waiver
from doorwright.model.change import Add, Remove, Set, apply
from doorwright.model.place import Building
from doorwright.model.site import Site
from doorwright.store import codec
from doorwright.store.book import Book
from doorwright.store.record import Tally, tally
from doorwright.store.vault import Parameters, create

SITE = codec.load((Path(__file__).parent / "documents" / "form-1.json").read_bytes())
AT = datetime(2031, 3, 5, 14, 7, 9, 123456, tzinfo=UTC)
LATER = datetime(2031, 3, 6, 9, 0, tzinfo=timezone(timedelta(hours=1)))
DOOR = Subject("door", "o1")
QUICK = Parameters(passes_count=1, lanes_count=1, memory_kib=8)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with Book.create(tmp_path / "wharf.book", SITE, by="A. Tester", at=AT, message="survey") as made:
        yield made


def renamed(name: str) -> Site:
    return replace(SITE, name=name)


def seen(ident: str, value: str = "yes", corrects: str | None = None) -> Observation:
    return Observation(
        id=ident,
        stage=Stage.FOUND,
        subject=DOOR,
        aspect="frees on fire alarm",
        value=value,
        seen_at=AT,
        seen_by="A. Tester",
        corrects=corrects,
    )


def waiver(ident: str = "w1") -> Waiver:
    return Waiver(
        id=ident,
        rule="door.release-time",
        subjects=(DOOR, Subject("unit", "u1")),
        reason="the owner wants it longer",
        by="B. Owner",
        on=date(2031, 3, 1),
        until=date(2031, 9, 1),
    )


# revisions


def test_a_new_book_holds_its_first_revision(book: Book) -> None:
    head = book.head()

    assert (head.number, head.parent, head.made_at, head.made_by, head.message) == (1, None, AT, "A. Tester", "survey")
    assert book.site() == book.site(1) == SITE
    assert Tally(kind="place", added_count=5, removed_count=0, changed_count=0) in head.tallies


def test_each_save_is_a_revision_and_the_old_ones_stay(book: Book) -> None:
    second = book.save(renamed("Second"), parent=1, by="B", at=LATER, message="name")
    third = book.save(renamed("Third"), parent=2, by="C", at=LATER, message="")

    assert [revision.number for revision in book.revisions()] == [1, 2, 3]
    assert book.revisions()[1:] == (second, third)
    assert (third.parent, third.made_at) == (2, LATER)
    with Book.open(book.path, read_only=True) as again:
        assert [again.site(number).name for number in (1, 2, 3)] == ["Invented Wharf", "Second", "Third"]
        assert again.site() == renamed("Third")


def test_the_history_tells_what_each_revision_changed(book: Book) -> None:
    door, other = SITE.doors
    after = replace(
        SITE,
        name="Renamed",
        doors=(replace(door, release_s=8.0, output=2),),
        buildings=(*SITE.buildings, Building(id="b2", name="South House")),
    )
    revision = book.save(after, parent=1, by="B", at=LATER, message="")

    assert revision.tallies == (
        Tally(kind="site", added_count=0, removed_count=0, changed_count=1),
        Tally(kind="building", added_count=1, removed_count=0, changed_count=0),
        Tally(kind="door", added_count=0, removed_count=1, changed_count=1),
    )
    assert [str(counts) for counts in revision.tallies] == [
        "site: 1 changed",
        "building: 1 added",
        "door: 1 removed, 1 changed",
    ]
    changes = book.changes(2)
    assert set(changes) == {
        Set("site", "", "name", "Invented Wharf", "Renamed"),
        Add(Building(id="b2", name="South House"), 1),
        Remove(other, 1),
        Set("door", "o1", "release_s", 5.0, 8.0),
        Set("door", "o1", "output", 1, 2),
    }
    assert apply(book.site(1), changes) == book.site(2)
    assert apply(book.site(2), book.changes(1, since=2)) == book.site(1)
    assert apply(Site(name=""), book.changes(1)) == SITE
    assert tally(book.changes(2)) == revision.tallies


def test_an_unchanged_site_makes_no_revision(book: Book) -> None:
    same = codec.load(codec.dump(SITE))

    assert book.save(same, parent=1, by="B", at=LATER, message="again") == book.head()
    assert len(book.revisions()) == 1


def test_a_new_order_of_parts_is_saved(book: Book) -> None:
    turned = replace(SITE, dwellings=tuple(reversed(SITE.dwellings)))
    book.save(turned, parent=1, by="B", at=LATER, message="order")

    with Book.open(book.path) as again:
        assert again.site() == turned


def test_a_save_onto_an_old_revision_is_refused_and_overwrites_nothing(book: Book) -> None:
    with Book.open(book.path) as other:
        other.save(renamed("Theirs"), parent=1, by="C. Colleague", at=LATER, message="")

    with pytest.raises(Refused) as caught:
        book.save(renamed("Mine"), parent=1, by="B", at=LATER, message="")

    assert caught.value.message == (
        "revision 2 was saved by C. Colleague at 2031-03-06 08:00:00 UTC since you opened revision 1;"
        " nothing was overwritten"
    )
    assert "revision 2" in caught.value.remedy
    assert [revision.made_by for revision in book.revisions()] == ["A. Tester", "C. Colleague"]
    assert book.site().name == "Theirs"


@pytest.mark.parametrize("number", [0, -1, 2, 10**12])
def test_a_revision_that_is_not_there_is_refused(book: Book, number: int) -> None:
    with pytest.raises(Refused, match=f"no revision {number}") as caught:
        book.site(number)
    assert "1 to 1" in caught.value.remedy
    with pytest.raises(Refused, match=f"no revision {number}"):
        book.changes(number)


def test_a_save_onto_a_revision_to_come_is_refused(book: Book) -> None:
    with pytest.raises(Refused, match="no revision 7"):
        book.save(renamed("Mine"), parent=7, by="B", at=LATER, message="")


def test_a_site_that_could_not_be_read_again_is_not_saved(book: Book) -> None:
    broken = replace(SITE, runs=(replace(SITE.runs[0], length_m=float("nan")),))

    with pytest.raises(Refused, match="could not be read again") as caught:
        book.save(broken, parent=1, by="B", at=LATER, message="")

    assert [mistake.where for mistake in caught.value.mistakes] == ["site.runs.0.length_m"]
    assert book.head().number == 1


def test_our_own_mistakes_are_exceptions_and_save_nothing(book: Book) -> None:
    listed = replace(SITE, notes=[("a", "b")])  # type: ignore[arg-type]

    with pytest.raises(ValueError, match="read back"):
        book.save(listed, parent=1, by="B", at=LATER, message="")
    with pytest.raises(ValueError, match="names no time zone"):
        book.save(renamed("x"), parent=1, by="B", at=AT.replace(tzinfo=None), message="")
    assert book.head().number == 1


def test_who_saves_has_a_name(book: Book) -> None:
    with pytest.raises(Refused, match="nobody is named"):
        book.save(renamed("x"), parent=1, by=" ", at=LATER, message="")


def test_a_closed_book_is_not_used(book: Book) -> None:
    book.close()

    with pytest.raises(ValueError, match="closed"):
        book.head()


# observations


def test_observations_come_back_in_the_order_of_recording(book: Book) -> None:
    first, second, third = seen("z"), seen("a", "no"), seen("m", "yes", corrects="a")

    assert book.observe([first, second]) == 2
    assert book.observe([third]) == 1
    assert book.observations() == (first, second, third)


def test_an_observation_recorded_twice_is_there_once(book: Book) -> None:
    book.observe([seen("a")])

    assert book.observe([seen("a"), seen("b"), seen("b")]) == 1
    assert [observation.id for observation in book.observations()] == ["a", "b"]


def test_observations_are_recorded_all_or_none(book: Book) -> None:
    book.observe([seen("a")])

    with pytest.raises(Refused) as caught:
        book.observe([seen("b"), seen("a", "no"), seen("c", corrects="nowhere"), seen("b", "no")])

    assert [mistake.where for mistake in caught.value.mistakes] == ["observation a", "observation c", "observation b"]
    assert [observation.id for observation in book.observations()] == ["a"]


def test_thousands_of_observations_are_recorded_at_once(book: Book) -> None:
    many = [seen(f"o{number}") for number in range(3000)]

    assert book.observe(many) == 3000
    assert book.observe(many) == 0
    assert book.observations() == tuple(many)


# waivers


def test_a_waiver_comes_back_and_can_be_ended(book: Book) -> None:
    book.waive(waiver())
    book.waive(waiver("w2"))
    assert book.waivers() == (waiver(), waiver("w2"))

    book.end_waiver("w1", by="A. Tester", on=date(2031, 4, 1))

    ended, other = book.waivers()
    assert other == waiver("w2")
    assert ended.covers(ended.rule, ended.subjects, date(2031, 3, 31))
    assert not ended.covers(ended.rule, ended.subjects, date(2031, 4, 1))
    assert [(end.waiver, end.by, end.on) for end in book.waiver_ends()] == [("w1", "A. Tester", date(2031, 4, 1))]


def test_a_waiver_ended_on_its_first_day_covers_nothing(book: Book) -> None:
    book.waive(waiver())
    book.end_waiver("w1", by="A", on=date(2031, 3, 1))

    (ended,) = book.waivers()
    assert not ended.covers(ended.rule, ended.subjects, date(2031, 3, 1))


def test_an_ending_after_its_last_day_gives_a_waiver_no_more_days(book: Book) -> None:
    book.waive(waiver())
    book.end_waiver("w1", by="A", on=date(2032, 1, 1))

    assert book.waivers()[0].until == date(2031, 9, 1)


def test_a_waiver_needs_a_reason_a_name_and_an_end(book: Book) -> None:
    with pytest.raises(Refused) as caught:
        book.waive(replace(waiver(), reason=" ", by="", until=date(2031, 2, 1)))

    assert [mistake.problem for mistake in caught.value.mistakes] == [
        "it gives no reason",
        "nobody answers for it",
        "it ends before it begins",
    ]
    assert book.waivers() == ()


def test_waivers_are_neither_repeated_nor_ended_twice(book: Book) -> None:
    book.waive(waiver())
    with pytest.raises(Refused, match="has a waiver w1 already"):
        book.waive(waiver())
    with pytest.raises(Refused, match="no waiver w9"):
        book.end_waiver("w9", by="A", on=date(2031, 4, 1))
    with pytest.raises(Refused, match="cannot end on 2031-02-28"):
        book.end_waiver("w1", by="A", on=date(2031, 2, 28))
    book.end_waiver("w1", by="A", on=date(2031, 4, 1))
    with pytest.raises(Refused, match="ended by A on 2031-04-01 already"):
        book.end_waiver("w1", by="B", on=date(2031, 5, 1))


# artefacts


def test_an_artefact_is_known_by_its_fingerprint(book: Book) -> None:
    made = book.record_artefact(revision=1, name="cards.pdf", media_type="application/pdf", content=b"abc", at=LATER)

    # SHA-256 of "abc": FIPS 180-4, the example published with it.
    assert made.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert made.bytes_count == 3
    assert book.artefacts() == (made,)
    with pytest.raises(Refused, match="no revision 2"):
        book.record_artefact(revision=2, name="x", media_type="text/plain", content=b"", at=LATER)


# the vault


def test_secrets_are_saved_with_their_revision_and_stay_sealed(book: Book) -> None:
    assert book.vault() is None
    counter = iter(range(1000))
    sealed, opened = create(
        "seven grey herons wade",
        random_bytes=lambda count: sha256(bytes([next(counter)])).digest()[:count],
        parameters=QUICK,
    )
    book.set_vault_header(sealed)
    lump = opened.seal("s1", "first-secret", random_bytes=lambda count: b"1" * count)
    other = opened.seal("s2", "other-secret", random_bytes=lambda count: b"2" * count)
    newer = opened.seal("s1", "second-secret", random_bytes=lambda count: b"3" * count)

    second = book.save(SITE, parent=1, by="B", at=LATER, message="secrets", sealed={"s1": lump, "s2": other})
    third = book.save(SITE, parent=2, by="B", at=LATER, message="one again", sealed={"s1": newer})

    assert (second.number, third.number) == (2, 3)
    assert book.sealed() == {"s1": newer, "s2": other}
    assert book.sealed(2) == {"s1": lump, "s2": other}
    assert book.sealed(1) == {}
    vault = book.vault()
    assert vault is not None
    assert vault.unlock("seven grey herons wade").reveal("s1", book.sealed()["s1"]) == "second-secret"
    on_disk = book.path.read_bytes()
    assert b"first-secret" not in on_disk
    assert b"herons" not in on_disk


def test_a_new_passphrase_scrubs_the_old_header_from_the_file(book: Book) -> None:
    counter = iter(range(1000))

    def drawn(count: int) -> bytes:
        return sha256(bytes([next(counter)])).digest()[:count]

    sealed, opened = create("seven grey herons wade", random_bytes=drawn, parameters=QUICK)
    book.set_vault_header(sealed)
    assert sealed.header[26:] in book.path.read_bytes()
    again = opened.change_passphrase("nine brown otters dive", random_bytes=drawn, parameters=QUICK)
    book.set_vault_header(again)

    assert book.vault() == again
    assert sealed.header[54:] not in book.path.read_bytes()
    stranger, _ = create("two red kites wheel up", random_bytes=drawn, parameters=QUICK)
    with pytest.raises(Refused, match="has a vault already"):
        book.set_vault_header(stranger)
    assert book.vault() == again


def test_secrets_need_a_vault(book: Book) -> None:
    with pytest.raises(ValueError, match="no vault"):
        book.save(renamed("x"), parent=1, by="B", at=LATER, message="", sealed={"s1": b"x"})
    assert book.head().number == 1


def test_a_refused_save_keeps_no_secret(book: Book) -> None:
    sealed, _ = create("seven grey herons wade", random_bytes=lambda count: b"7" * count, parameters=QUICK)
    book.set_vault_header(sealed)

    with pytest.raises(Refused, match="no revision 5"):
        book.save(renamed("x"), parent=5, by="B", at=LATER, message="", sealed={"s1": b"x"})
    assert book.sealed() == {}


def test_a_whole_book_verifies(book: Book) -> None:
    book.save(renamed("x"), parent=1, by="B", at=LATER, message="")

    assert book.verify() == ()
