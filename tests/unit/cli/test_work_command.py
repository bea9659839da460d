"""`work` and `history --trail`: shown, recorded, kept through a new plan, refused."""

from pathlib import Path

from doorwright.plan.runsheet import Action
from tests.unit.cli.conftest import PASSPHRASE, Doorwright
from tests.unit.store.pictures import jpeg


def tasks(doorwright: Doorwright, book: Path) -> dict[int, dict[str, object]]:
    return {one["number"]: one for one in doorwright("work", book, "--json").json["tasks"]}


def test_the_work_is_shown_by_place_and_by_task(doorwright: Doorwright, book: Path) -> None:
    shown = doorwright("work", book).out
    assert "Done 0 of 118 tasks" in shown  # as many as the run sheet has
    listed = doorwright("work", book, "--list", "--stage", "network").out
    assert "Power up and set SW-A1" in listed
    assert "Pair" not in listed


def test_all_that_can_be_recorded_is_recorded_of_each_task_named(
    doorwright: Doorwright, book: Path, tmp_path: Path
) -> None:
    picture = tmp_path / "lid.jpg"
    picture.write_bytes(jpeg())
    ran = doorwright(
        "work", book, "--done", 1, "--done", 2, "--minutes", 9, "--note", "lid was loose",
        "--reading", "link speed=1000", "--photograph", picture, "--by", "B. Fitter",
    )  # fmt: skip
    assert (ran.code, "Recorded 10 lines of 2 tasks." in ran.out) == (0, True)  # 2 * (done, time, note, reading, photo)
    there = tasks(doorwright, book)
    assert [there[number]["is_done"] for number in (1, 2, 3)] == [True, True, False]
    assert there[1]["spent_s"] == 540  # 9 min
    listed = doorwright("work", book, "--list").out
    assert "lid was loose; link speed: 1000 Mbit/s; photograph" in listed
    assert "done (B. Fitter)" in listed

    assert doorwright("work", book, "--not-done", 2).code == 0
    assert "Done 1 of 118 tasks; " in doorwright("work", book).out


def test_a_task_keeps_what_was_recorded_when_a_new_plan_gives_it_another_number(
    doorwright: Doorwright, book: Path, passphrase_file: Path
) -> None:
    before = tasks(doorwright, book)
    last, first = before[max(before)], next(one for one in before.values() if one["stage"] == "dwellings")
    assert doorwright("work", book, "--done", last["number"], "--done", first["number"]).code == 0
    home = str(first["where"]).rpartition(", ")[2]
    removed = doorwright("change", book, "remove-dwelling", home, "--passphrase-file", passphrase_file)
    assert removed.code == 0, removed.err

    shown = doorwright("work", book, "--json").json
    after = {one["key"]: one for one in shown["tasks"]}
    assert first["key"] not in after
    assert after[last["key"]]["number"] < int(str(last["number"]))
    assert after[last["key"]]["is_done"]
    assert [one["task"] for one in shown["gone"]] == [first["key"]]
    assert "a part that is gone" in doorwright("work", book).out


def test_what_is_wrong_is_told_at_once_and_nothing_is_recorded(doorwright: Doorwright, book: Path) -> None:
    unknown = doorwright("work", book, "--done", 0, "--done", 999)
    assert (unknown.code, "0" in unknown.err, "999" in unknown.err) == (2, True, True)
    wrong = doorwright("work", book, "--done", 1, "--minutes", 0, "--note", " ", "--reading", "mood=7")
    assert wrong.code == 2
    for said in ("no time spent", "the note is empty", "nothing that is read off", "nothing was"):
        assert said in wrong.err
    assert not any(one["records"] for one in tasks(doorwright, book).values())


def test_a_picture_that_is_none_is_refused(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    (tmp_path / "x.jpg").write_text("no picture")
    assert "no photograph" in doorwright("work", book, "--task", 1, "--photograph", tmp_path / "x.jpg").err
    missing = doorwright("work", book, "--task", 1, "--photograph", tmp_path / "none.jpg")
    assert (missing.code, "cannot be read" in missing.err) == (2, True)


def test_the_command_asks_for_what_it_needs(doorwright: Doorwright, book: Path) -> None:
    assert "name the task" in doorwright("work", book, "--note", "x").err
    assert "say what is recorded" in doorwright("work", book, "--task", 1).err


def test_the_trail_tells_who_did_what_and_no_secret(
    doorwright: Doorwright, book: Path, passphrase_file: Path, tmp_path: Path
) -> None:
    made = doorwright("history", book, "--trail", "--json").json
    assert [one["act"] for one in made] == ["made the vault"]
    shown = doorwright("vault", book, "reveal", "SW-A1", "--passphrase-file", passphrase_file, "--json").json
    doorwright("vault", book, "sheet", tmp_path / "sealed.pdf", "--passphrase-file", passphrase_file)
    doorwright("sign-off", book, "training given", "--name", "C. Owner", "--role", "owner")
    doorwright("waive", book, "control-out-of-reach", "URU 22", "--reason", "asked", "--until", "2999-12-31")
    doorwright("pack", book, "--out", tmp_path / "pack")
    trail = doorwright("history", book, "--trail").out
    for act in ("had secrets shown", "took out the sealed sheet", "recorded a sign-off", "waived findings"):
        assert act in trail
    assert "took out papers" in trail
    assert shown
    assert all(one["secret"] not in trail for one in shown)
    assert PASSPHRASE not in trail


def test_a_secret_that_cannot_be_noted_is_not_shown(doorwright: Doorwright, book: Path, passphrase_file: Path) -> None:
    wrong = doorwright("vault", book, "reveal", "no such unit", "--passphrase-file", passphrase_file)
    assert wrong.code == 2
    assert len(doorwright("history", book, "--trail", "--json").json) == 1


def test_the_kinds_of_task_have_names_of_their_own() -> None:
    assert len({one.value for one in Action}) == len(Action)
