"""`firmware` and `pack --rebuild` on the planned example."""

from io import BytesIO
from pathlib import Path

import openpyxl
from pypdf import PdfReader

from doorwright.render.pdf.firmware import runs
from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright

ALL = ("--to", "4.0", "--to", "vcu-directory=6.0", "--to", "uru-audio=3.0")


def test_a_step_is_planned_and_the_book_stays_as_it_is(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    out = tmp_path / "plan.pdf"
    ran = doorwright("firmware", book, *ALL, "--seconds", 0, "--technicians", 2, "--out", out, "--json")
    assert ran.code == 1  # the example lacks a serial number and a MAC address
    found = ran.json
    assert found["safe_to_begin"] is False
    assert {(row["unit"], row["fact"]) for row in found["record_first"]} == {
        ("URU 54", "serial number"),
        ("Concierge desk", "MAC address"),
    }
    assert {row["unit"] for row in found["untold"]} == {"URU 19", "URU 20"}
    assert found["unreached_after"] == 0
    turned = [row["unit"] for wave in found["waves"] for row in wave["units"]]
    assert sorted(turned) == sorted(row["unit"] for row in found["steps"])
    assert len(doorwright("history", book, "--json").json) == 2
    text = " ".join(page.extract_text() for page in PdfReader(out).pages)
    assert "NOT SAFE TO BEGIN" in text
    assert "Pairs that stop talking" in text
    with Book.open(book, read_only=True) as opened:
        assert [made.name for made in opened.artefacts()] == ["plan.pdf"]


def test_words_on_the_screen_say_what_to_do_first(doorwright: Doorwright, book: Path) -> None:
    said = doorwright("firmware", book, *ALL, "--seconds", 0).out
    assert "Not safe to begin: 2 facts are missing from the record." in said
    assert "The maker's program: " in said
    assert "cleared again, leaving 4.0" in said
    # data/profiles.toml: 6.0 of vcu-directory may not go back, of 4.0 the maker says nothing
    assert "No way back from vcu-directory 6.0: Gate panel. Try it on one unit first" in said
    assert "vcu-directory from 6.0 to 5.1, 1 unit: NO WAY BACK from 6.0" in said
    assert "uru-video from 4.0 to 3.2, 62 units: cleared again, leaving 4.0; must go back together" in said
    assert "the maker does not say whether it can: ask" in said


def test_the_paper_names_who_cannot_go_back(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    out = tmp_path / "plan.pdf"
    ran = doorwright("firmware", book, *ALL, "--seconds", 0, "--out", out, "--json").json
    assert {row["unit"] for row in ran["steps"] if row["no_way_back_from"]} == {"Gate panel"}
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(out).pages).split())
    assert "These units will have no way back" in text
    assert "vcu-directory: Gate panel. Version 6.0 cannot be taken off again." in text
    assert "Try the step on one unit of the type first" in text
    # its pairing generation goes from 2 to 3, and 69 units register with it
    assert "What is paired with them must stay with them" in text


def test_names_that_count_on_are_told_by_their_ends() -> None:
    names = ["URU 9", "URU 10", "URU 11", "URU 11 bedroom", "URU 12", "URU 13", "Panel A", "Panel 14", "URU 101"]
    told = ["URU 9 to URU 11", "URU 11 bedroom", "URU 12", "URU 13", "Panel A", "Panel 14", "URU 101"]
    assert runs(names) == told
    # 1 and 02 are other names than 1 and 2; nothing is told of a count backwards or a jump
    assert runs(["3", "2", "1"]) == ["3", "2", "1"]
    assert runs(["099", "100", "101"]) == ["099 to 101"]
    assert runs([]) == []


def test_where_no_way_leads_back_none_is_planned(doorwright: Doorwright, book: Path) -> None:
    # data/profiles.toml: 3.2 of vcu-direct may go back, 3.0 may not
    assert doorwright("firmware", book, "--to", "vcu-direct=3.0", "--back", "--seconds", 0).code == 0
    refused = doorwright("firmware", book, "--to", "vcu-direct=2.6", "--back")
    assert refused.code == 2
    assert "no way leads back from 3.0" in refused.err


def test_a_step_that_parts_dwellings_is_not_safe(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("firmware", book, "--to", "uru-video=4.0", "--seconds", 0)
    assert ran.code == 1
    assert "would stay cut off when all is done" in ran.out


def test_a_step_that_loses_nothing_is_safe(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("firmware", book, "--to", "vcu-direct=3.2", "--seconds", 0.2)
    assert ran.code == 0
    assert "The record is complete" in ran.out


def test_every_unclear_target_is_told_at_once(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("firmware", book, "--to", "9", "--to", "nobody=1", "--to", "uru-video=7", "--json")
    assert ran.code == 2
    refused = doorwright("firmware", book, "--to", "9", "--to", "nobody=1", "--to", "uru-video=7", "--json").json
    assert [one["read"] for one in refused["mistakes"]] == ["9", "nobody=1", "uru-video=7"]
    twice = doorwright("firmware", book, "--to", "uru-video=3.2", "--to", "uru-video=4.0")
    assert twice.code == 2
    assert "two versions" in twice.err


def test_the_way_back_must_be_meant(doorwright: Doorwright, book: Path) -> None:
    refused = doorwright("firmware", book, "--to", "vcu-direct=3.0")
    assert refused.code == 2
    assert "--back" in refused.err
    assert doorwright("firmware", book, "--to", "vcu-direct=3.0", "--back", "--seconds", 0).code == 0


def test_units_are_noted_in_one_revision(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("firmware", book, "--done", "URU 1, uru 2", "--version", "4.0", "--by", "A. Fitter", "--json")
    assert ran.json["units"] == ["URU 1", "URU 2"]
    rows = doorwright("diff", book, 2, 3, "--json").json
    assert [(row["part"], row["what"], row["before"], row["after"]) for row in rows] == [
        ("URU 1", "firmware", "3.2", "4.0"),
        ("URU 2", "firmware", "3.2", "4.0"),
    ]


def test_a_wrong_name_or_version_notes_nothing(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("firmware", book, "--done", "URU 1,nobody,Panel A", "--version", "5.1")
    assert ran.code == 2
    for read in ("nobody", "URU 1", "Panel A"):
        assert read in ran.err
    assert len(doorwright("history", book, "--json").json) == 2


def test_options_that_do_not_go_together_are_refused(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    for arguments in (
        ["firmware", book],
        ["firmware", book, "--to", "4.0", "--done", "URU 1", "--version", "4.0"],
        ["firmware", book, "--done", "URU 1"],
        ["pack", book, "--out", tmp_path, "--firmware", "4.0"],
        ["pack", book, "--out", tmp_path, "--rebuild", "--firmware", "4.0", "--units", "URU 1"],
    ):
        assert doorwright(*arguments).code == 2


def test_the_rebuild_pack_has_every_entry_and_no_secret(
    doorwright: Doorwright, book: Path, tmp_path: Path, passphrase_file: Path
) -> None:
    out = tmp_path / "rebuild"
    ran = doorwright("pack", book, "--rebuild", "--units", "Panel A,URU 5", "--out", out, "--json").json
    assert ran["units"][-1] == "URU 5"
    assert sorted(ran["units"]) == ["Panel A", "URU 5"]
    rows = list(openpyxl.load_workbook(BytesIO((out / "rebuild-entries.xlsx").read_bytes()))["Entries"].values)
    assert rows[0] == ("No.", "Unit", "Where", "End", "About", "Field", "Value", "Done")
    assert len(rows) - 1 == ran["entries"]
    # URU 5 is the primary of two secondaries: what it knows of them is lost with it
    assert {row[4] for row in rows if row[1] == "URU 5"} == {"URU 5", "URU 5 bedroom", "URU 5 study"}
    table = {str(cell) for row in rows for cell in row}
    text = " ".join(page.extract_text() for page in PdfReader(out / "rebuild-cards.pdf").pages)
    assert "sealed sheet, line" in text
    for unit in ("Panel A", "URU 5"):
        for row in doorwright("vault", book, "reveal", unit, "--passphrase-file", passphrase_file, "--json").json:
            assert row["secret"] not in text
            assert row["secret"] not in table
    with Book.open(book, read_only=True) as opened:
        assert [made.name for made in opened.artefacts()] == ["rebuild-cards.pdf", "rebuild-entries.xlsx"]


def test_hours_and_rights_are_entered_again_too(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    doorwright("pack", book, "--rebuild", "--out", tmp_path)
    rows = list(openpyxl.load_workbook(BytesIO((tmp_path / "rebuild-entries.xlsx").read_bytes()))["Entries"].values)
    entries = {tuple(row[index] for index in (1, 3, 5, 6)) for row in rows}
    # as examples/medium/README.md tells: hours of the desk, flat 33 to flat 34, flat 5 in turn, the cycle store
    assert ("Gate panel", "its timetable Concierge hours", "name", "Concierge hours") in entries
    assert ("Gate panel", "its diverts", "divert", "always, calls to 33: to 34") in entries
    assert ("URU 5", "how calls ring", "rings for 5", "in turn, 20 s each") in entries
    assert ("Panel C", "its doors", "Cycle store, freed by", "45-64, 80") in entries
    assert ("Gate panel", "its clock", "time zone", "Europe/London") in entries


def test_a_later_pack_in_the_same_folder_leaves_the_rebuild_pack_alone(
    doorwright: Doorwright, book: Path, tmp_path: Path
) -> None:
    assert doorwright("pack", book, "--rebuild", "--firmware", "smu-desk=4.0", "--out", tmp_path).code == 0
    assert doorwright("pack", book, "--out", tmp_path).code == 0
    assert (tmp_path / "rebuild-cards.pdf").exists()


def test_a_step_that_clears_nothing_needs_no_rebuilding(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    ran = doorwright("pack", book, "--rebuild", "--firmware", "vcu-direct=3.2", "--out", tmp_path / "none")
    assert ran.code == 2
    assert not (tmp_path / "none").exists()


def test_a_long_directory_is_printed_once(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    doorwright("pack", book, "--rebuild", "--units", "Gate panel,Garage panel", "--out", tmp_path)
    text = " ".join(" ".join(p.extract_text() for p in PdfReader(tmp_path / "rebuild-cards.pdf").pages).split())
    # both serve all 64 flats (examples/medium/README.md); the gate alone lists the concierge besides
    assert "all 64 entries of card 1, Gate panel, without Concierge desk, 80" in text
    rows = list(openpyxl.load_workbook(BytesIO((tmp_path / "rebuild-entries.xlsx").read_bytes()))["Entries"].values)
    assert sum(row[1] == "Garage panel" and row[3] == "its directory" for row in rows) == 64
