"""`doorwright paths`: the whole week, one entrance, one dwelling, one moment; and what is refused."""

from pathlib import Path

import pytest

from doorwright.app.prove_paths import moment
from doorwright.kernel.errors import Refused
from doorwright.paths.week import day_index
from tests.unit.cli.conftest import Doorwright


def test_the_week_of_the_example_is_told_for_each_entrance(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("paths", book, "--json")
    assert ran.code == 0
    entrances = ran.json["entrances"]
    assert entrances
    for entrance in entrances:
        for group in entrance["groups"]:
            assert sum(stretch["minutes"] for stretch in group["stretches"]) == 28 * 1440
            assert all(one["when"] and one["call"] for one in group["behaviours"])
    plain = doorwright("paths", book)
    assert all(entrance["entrance"] in plain.out for entrance in entrances)


def test_one_dwelling_at_one_moment(doorwright: Doorwright, book: Path) -> None:
    first = doorwright("paths", book, "--json").json["entrances"][0]
    label = first["groups"][0]["dwellings"][0]
    ran = doorwright(
        "paths", book, "--entrance", first["entrance"].upper(), "--dwelling", label, "--at", "Sat 14:30", "--json"
    )
    assert ran.code == 0
    (entrance,) = ran.json["entrances"]
    (group,) = entrance["groups"]
    assert (ran.json["at"], group["dwellings"]) == ("Sat 14:30", [label])
    assert len(group["behaviours"]) == len(group["stretches"]) == 1


@pytest.mark.parametrize(
    ("text", "minute"),
    [
        ("Mon 00:00", 0),
        ("sat 14:30", 5 * 1440 + 870),
        ("Sunday 23:59", 7 * 1440 - 1),
        ("Hol 09:00", day_index(0, holiday=True) * 1440 + 540),
        ("Hol on Wed 9:05", day_index(2, holiday=True) * 1440 + 545),
    ],
)
def test_moments_are_read(text: str, minute: int) -> None:
    assert moment(text) == minute


@pytest.mark.parametrize("text", ["", "Sat", "14:30", "Sat 24:00", "Xyz 10:00", "Sat on Mon 10:00", "Hol on Hol 10:00"])
def test_what_is_no_moment_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="no moment of the week"):
        moment(text)


@pytest.mark.parametrize("option", ["--entrance", "--dwelling"])
def test_names_that_are_not_there_are_refused(doorwright: Doorwright, book: Path, option: str) -> None:
    ran = doorwright("paths", book, option, "Nowhere at all")
    assert ran.code == 2
    assert "Nowhere at all" in ran.err
