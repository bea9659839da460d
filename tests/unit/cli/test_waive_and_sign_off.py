"""`waive` and `sign-off`: given, listed, ended, and told again."""

from datetime import date
from pathlib import Path

import pypdf
import pytest

from doorwright.kernel.verdict import Subject
from doorwright.kernel.waiver import Waiver
from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright

RULE, PART = "control-out-of-reach", "URU 22"
GIVEN = ["--name", "A. Warden", "--role", "responsible for fire safety"]
ESCAPE, FIRE = "escape route release tested", "fire alarm release tested"


def waived(doorwright: Doorwright, book: Path) -> str:
    ran = doorwright("waive", book, RULE, PART, "--reason", "asked for", "--until", "2999-12-31", "--json")
    return str(ran.json[0]["id"])


def with_ended_waiver(book: Path) -> None:
    with Book.open(book) as opened:
        unit = next(unit for unit in opened.site().units if unit.name == PART)
        opened.waive(
            Waiver(
                id="old", rule=RULE, subjects=(Subject("unit", unit.id),), reason="asked for", by="A. Warden",
                on=date(2020, 1, 1), until=date(2020, 12, 31),
            )
        )  # fmt: skip


def test_a_waiver_is_listed_and_ended_once(doorwright: Doorwright, book: Path) -> None:
    assert "no waivers" in doorwright("waive", book, "--list").out
    ident = waived(doorwright, book)
    (listed,) = doorwright("waive", book, "--list", "--json").json
    assert (listed["waiver"]["id"], listed["labels"], listed["current"]) == (ident, [PART], True)

    assert doorwright("waive", book, "--end", ident, "--by", "B. Owner").code == 0
    assert "ended by B. Owner" in doorwright("waive", book, "--list").out
    again = doorwright("waive", book, "--end", ident)
    assert (again.code, "already" in again.err) == (2, True)


def test_a_waiver_that_has_ended_comes_back_and_says_so(doorwright: Doorwright, book: Path) -> None:
    with_ended_waiver(book)
    told = "the waiver by A. Warden ended on 2020-12-31: asked for"
    ran = doorwright("check", book, "--json").json
    assert [one["waiver"]["id"] for one in ran["came_back"]] == ["old"]
    assert [told in one["message"] for one in ran["findings"] if one["rule"] == RULE] == [True]
    assert told in doorwright("check", book).out
    ended = doorwright("waive", book, "--end", "old")
    assert (ended.code, "by itself" in ended.err) == (2, True)


def test_a_waiver_is_renewed_to_a_later_day_and_to_no_earlier_one(doorwright: Doorwright, book: Path) -> None:
    ident = waived(doorwright, book)
    sooner = doorwright("waive", book, RULE, PART, "--reason", "asked again", "--until", "2999-12-30")
    assert (sooner.code, f"--end {ident}" in sooner.err) == (2, True)
    later = doorwright("waive", book, RULE, PART, "--reason", "asked again", "--until", "3000-01-31", "--json")
    assert (later.code, len(later.json)) == (0, 1)
    (told,) = [one for one in doorwright("check", book, "--json").json["waived"] if one["finding"]["rule"] == RULE]
    assert told["waiver"]["until"] == "3000-01-31"


def test_all_that_is_wrong_with_a_waiver_is_told_at_once(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("waive", book, "no-such-rule", PART, "--reason", " ", "--until", "2001-01-01")
    assert ran.code == 2
    for said in ("no such rule", "needs a reason", "has passed", "nothing was waived"):
        assert said in ran.err


def test_all_that_is_wrong_with_a_sign_off_is_told_at_once(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright(
        "sign-off", book, ESCAPE, "--part", "Nowhere", "--name", " ", "--role", "", "--on", "2999-01-01", "--until",
        "2001-01-01", "--json",
    )  # fmt: skip
    assert ran.code == 2
    told = {one["where"]: one["problem"] for one in ran.json["mistakes"]}
    assert told == {
        "--part": "the plan has no such door",
        "--name": "nobody is named",
        "--role": "no role is given",
        "--on": "this day has not come yet",
        "--until": "this day has passed",
    }
    assert "no sign-offs" in doorwright("sign-off", book, "--list").out


def test_a_sign_off_silences_the_note_on_its_door_alone(doorwright: Doorwright, book: Path) -> None:
    def doors() -> list[str]:
        found = doorwright("check", book, "--json").json["findings"]
        return [one["parts"][0]["label"] for one in found if one["rule"] == "release-not-signed-off"]

    before = doors()
    assert "Front door A" in before
    assert doorwright("sign-off", book, ESCAPE, "--part", "front door a", *GIVEN).code == 0
    assert doors() == before  # its fire alarm release is still open
    assert "not approved" in doorwright("sign-off", book, FIRE, "--part", "Front door A", *GIVEN).out
    assert doors() == [label for label in before if label != "Front door A"]


def test_sign_offs_are_listed_with_what_replaced_them(doorwright: Doorwright, book: Path) -> None:
    for name in ("A. Warden", "B. Warden"):
        doorwright("sign-off", book, "training given", "--name", name, "--role", "caretaker", "--on", "2024-02-03")
    listed = doorwright("sign-off", book, "--list", "--json").json
    assert [(one["sign_off"]["name"], one["label"], one["state"]) for one in listed] == [
        ("A. Warden", "Tallow Yard", "replaced"),
        ("B. Warden", "Tallow Yard", "current"),
    ]
    assert "replaced" in doorwright("sign-off", book, "--list").out


def test_the_papers_show_what_came_back_and_what_was_signed_off(
    doorwright: Doorwright, book: Path, tmp_path: Path
) -> None:
    with_ended_waiver(book)
    doorwright("sign-off", book, "mains work certified", *GIVEN)
    assert doorwright("pack", book, "--out", tmp_path / "pack").code in (0, 1)
    text = "".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "pack" / "site-pack.pdf").pages)
    assert "Accepted once, and told again" in text
    assert "mains work certified" in text
    assert "this paper approves nothing" in " ".join(text.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["waive", "BOOK"], "are needed"),
        (["waive", "BOOK", RULE, PART, "--list"], "one of the three"),
        (["waive", "BOOK", "--end", "nobody"], "no waiver"),
        (["waive", "BOOK", "--end", "nobody", "--reason", "over"], "one of the three"),
        (["sign-off", "BOOK", "--list", "--name", "A. Warden"], "leave the statement out"),
        (["sign-off", "BOOK"], "are needed"),
        (["sign-off", "BOOK", ESCAPE, *GIVEN], "of one door"),
        (["sign-off", "BOOK", ESCAPE, *GIVEN, "--part", PART], "no such door"),
        (["sign-off", "BOOK", "training given", *GIVEN, "--part", "Nobody"], "no such part"),
        (["sign-off", "BOOK", "training given", "--name", " ", "--role", ""], "nobody is named"),
        (["sign-off", "BOOK", "training given", *GIVEN, "--until", "2001-01-01"], "has passed"),
        (["sign-off", "BOOK", "training given", *GIVEN, "--on", "2999-01-01"], "not come yet"),
        (["sign-off", "BOOK", "training given", "--list"], "leave the statement out"),
        (["sign-off", "BOOK", "approved", *GIVEN], "Invalid value"),
    ],
)
def test_misuse_is_refused(doorwright: Doorwright, book: Path, arguments: list[str], said: str) -> None:
    ran = doorwright(*(book if word == "BOOK" else word for word in arguments))
    assert ran.code == 2
    assert said in " ".join(ran.err.split())
