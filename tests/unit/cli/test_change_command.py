"""Changes as work: `change`, `undo` and `diff` on copies of one planned book."""

import hashlib
import io
import json
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from doorwright.store.book import Book
from tests.unit.cli.conftest import PASSPHRASE, Doorwright


@pytest.fixture(autouse=True)
def opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DOORWRIGHT_PASSPHRASE", PASSPHRASE)


def refused(doorwright: Doorwright, book: Path, *arguments: object) -> str:
    """Return what a refused change says, and see that nothing was saved."""
    with Book.open(book, read_only=True) as there:
        before = there.head().number
    ran = doorwright("change", book, *arguments)
    assert ran.code == 2
    with Book.open(book, read_only=True) as there:
        assert there.head().number == before
    return ran.err


def visits(result: dict[str, Any]) -> list[str]:
    return [touch["holder"]["name"] for touch in result["touches"]]


def test_a_replaced_receiver_is_one_revision_and_two_visits(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("change", book, "replace", "URU 12", "--serial", "R26099999", "--mac", "00:00:5e:00:53:f1",
                     "--by", "A. Fitter", "--json").json  # fmt: skip
    assert (ran["revision"], ran["saved"], ran["issues"], ran["troubles"]) == (3, True, [], [])
    # by the trade's table of facts, the registrar knows a receiver's serial number: it is visited first
    assert visits(ran) == ["Gate panel", "URU 12"]
    (at_gate,) = ran["touches"][0]["entries"]
    assert (at_gate["name"], at_gate["old"], at_gate["new"]) == ("serial number", "R26010666", "R26099999")
    assert ran["touches"][1]["fresh"] is True
    with Book.open(book, read_only=True) as there:
        unit = next(one for one in there.site().units if one.name == "URU 12")
        assert (unit.serial, unit.mac, unit.firmware) == ("R26099999", "00-00-5E-00-53-F1", None)
        assert there.head().made_by == "A. Fitter"
    told = doorwright("diff", book, 2, 3).out
    assert told.startswith("URU 12 was replaced: serial number R26010666 -> R26099999, MAC address ")


def test_a_dry_run_shows_and_saves_nothing(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    before = book.read_bytes()
    ran = doorwright("change", book, "remove-dwelling", "12", "--dry-run")
    assert ran.code == 0
    assert "Not saved: remove dwelling 12" in ran.out
    assert "remove key " in ran.out
    assert book.read_bytes() == before
    both = doorwright("change", book, "remove-dwelling", "12", "--dry-run", "--out", tmp_path / "papers")
    assert both.code == 2
    assert not (tmp_path / "papers").exists()


def test_an_added_dwelling_is_complete(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("change", book, "add-dwelling", "14A", "--core", "Stair A", "--level", "3", "--json").json
    issued = {issue["what"] for issue in ran["issues"]}
    assert {"call number", "key", "address", "position", "registrar", "device secret", "SIP secret"} <= issued
    assert ran["secrets_waiting_count"] == 0
    assert all(issue["part"] for issue in ran["issues"])
    told = doorwright("diff", book, 2, 3).out
    assert "Dwelling 14A was added on level 3 of Stair A, call number " in told
    again = doorwright("plan", book, "--json").json
    assert (again["revision"], again["issues"]) == (3, [])


def test_undo_is_a_revision_like_the_earlier_one_and_can_be_undone(doorwright: Doorwright, book: Path) -> None:
    assert doorwright("change", book, "new-secret", "URU 20", "--use", "sip").code == 0
    with Book.open(book, read_only=True) as there:
        sealed = set(there.sealed())
        renewed = {mark.id for mark in there.site(3).secrets} - {mark.id for mark in there.site(2).secrets}
    assert len(renewed) == 1
    ran = doorwright("undo", book, "--json").json
    assert (ran["revision"], ran["same_as"]) == (4, 2)
    assert visits(ran) == ["Gate panel", "URU 20"]
    with Book.open(book, read_only=True) as there:
        assert there.site(4) == there.site(2)
        assert set(there.sealed()) == sealed
        assert renewed <= sealed
        assert "revision 2" in there.head().message
    assert doorwright("undo", book).code == 0
    with Book.open(book, read_only=True) as there:
        assert there.site(5) == there.site(3)
    assert doorwright("vault", book, "reveal", "URU 20").code == 0


def test_undo_says_why_it_cannot(doorwright: Doorwright, book: Path) -> None:
    assert "as it was in revision 2 already" in doorwright("undo", book, "--to", 2).err
    assert "no revision 9" in doorwright("undo", book, "--to", 9).err
    assert doorwright("undo", book, "--to", 1).code == 0
    told = doorwright("diff", book, 1, 2).out
    assert "64 dwellings were given call numbers (" in told


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["replace", "URU 122", "--serial", "R1"], ["no unit or switch is called 'URU 122'", "URU 12"]),
        (["replace", "URU 12", "--serial", "R26010259", "--mac", "nonsense"], ["URU 1 (dwelling 1)", "nonsense"]),
        (["replace", "URU 12", "--serial", "R26010666"], ["has the serial number R26010666 already"]),
        (["replace", "URU 12", "--serial", "R2", "--profile", "vcu-direct"], ["is a VCU, where a URU is wanted"]),
        (["add-dwelling", "12", "--core", "Stair A", "--level", "3"], ["Stair A has a dwelling 12 already"]),
        (["add-dwelling", "99", "--core", "Stair A", "--level", "33"], ["Stair A has no level '33'"]),
        (["merge-dwellings", "12", "13", "12"], ["dwelling 12 is named twice"]),
        (["remove-dwelling", "142"], ["no dwelling is called '142'", "14, "]),
        (["move", "URU 12", "--to", "Gate"], ["no dwelling is called 'Gate'"]),
        (["move", "URU 12", "--to", "12"], ["URU 12 is at 12 already"]),
        (["rename", "URU 12", "--to", "uru 13"], ["URU 13 (dwelling 13) is called that already"]),
        (["new-subnet", "Flats", "--cidr", "203.0.113.0/24"], ["Give --gateway"]),
        (["new-subnet", "Flats", "--cidr", "192.0.2.0/24", "--gateway", "x"], ["Entrances and switches", "(read: x)"]),
    ],
)  # fmt: skip
def test_refusals_say_what_was_read_and_what_to_do(
    doorwright: Doorwright, book: Path, arguments: list[str], says: list[str]
) -> None:
    text = refused(doorwright, book, *arguments)
    for words in says:
        assert words in text


def test_new_secrets_need_the_vault(doorwright: Doorwright, book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DOORWRIGHT_PASSPHRASE")
    assert "the vault's passphrase is needed" in refused(doorwright, book, "new-secret", "URU 20")


def test_papers_name_every_visit_and_hold_no_secret(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    ran = doorwright("change", book, "replace", "Panel A", "--serial", "P26099999", "--out", tmp_path / "papers")
    assert ran.code == 0
    assert "no call frees" in ran.out
    pages = [page.extract_text() for page in PdfReader(tmp_path / "papers" / "touch-list.pdf").pages]
    assert "Touch list" in pages[0]
    assert "P26010074" in pages[0]
    assert "P26099999" in "".join(pages[1:])
    out = tmp_path / "again.pdf"
    assert doorwright("diff", book, 2, 3, "--touch", "--out", out).code == 0
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(out.read_bytes())).pages)
    secrets = doorwright("vault", book, "reveal", "Panel A", "--json").json
    assert len(secrets) == 2
    assert all(one["secret"] not in text for one in secrets)
    alone = doorwright("diff", book, 2, 3, "--out", out)
    assert alone.code == 2


def test_a_paper_is_noted_in_the_book(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    assert doorwright("change", book, "rename", "12", "--to", "12A", "--out", tmp_path / "papers").code == 0
    assert doorwright("diff", book, 2, 3, "--touch", "--out", tmp_path / "again.pdf").code == 0
    with Book.open(book, read_only=True) as there:
        made = there.artefacts()
        assert [(one.revision, one.name, one.media_type) for one in made] == [
            (3, "touch-list.pdf", "application/pdf"),
            (3, "again.pdf", "application/pdf"),
        ]
        assert made[0].sha256 == hashlib.sha256((tmp_path / "papers" / "touch-list.pdf").read_bytes()).hexdigest()
    assert doorwright("diff", book, 2, 3, "--touch").code == 0  # on the screen alone: nothing is made
    with Book.open(book, read_only=True) as there:
        assert len(there.artefacts()) == 2


def test_a_corrected_data_sheet_is_taken_in_checked_and_can_be_undone(
    doorwright: Doorwright, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "is the same as the data sheet" in refused(doorwright, book, "renew-profile", "vcu-directory")
    assert "Types of the site: " in refused(doorwright, book, "renew-profile", "nothing-like-it")
    shipped = tomllib.loads(files("doorwright.data").joinpath("profiles.toml").read_text(encoding="utf-8"))
    row = shipped["vcu-directory"] | {"registrations_max_count": 40}
    (tmp_path / "mine.toml").write_text(_sheet("vcu-directory", row), encoding="utf-8")
    monkeypatch.setenv("DOORWRIGHT_PROFILES", str(tmp_path))
    ran = doorwright("change", book, "renew-profile", "vcu-directory", "--json").json
    assert (ran["revision"], ran["saved"]) == (3, True)
    assert ran["told"][0] == "registrations_max_count: 500 -> 40"
    # 64 homes register with the gate's panel alone: more than 40
    assert any(
        "Gate panel" in finding["message"] and "40" in finding["message"] for finding in ran["rechecked"]["came"]
    )
    assert ran["touches"] == []
    assert doorwright("diff", book, 2, 3).out == "Type vcu-directory: registrations_max_count: 500 -> 40\n"
    assert doorwright("undo", book).code == 0
    with Book.open(book, read_only=True) as there:
        assert there.site(4) == there.site(2)


def _sheet(key: str, row: dict[str, Any]) -> str:
    """Return a profile as TOML."""
    return "\n".join([f"[{key}]", *(f"{name} = {_toml(value)}" for name, value in row.items())])


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{name} = {_toml(one)}" for name, one in value.items()) + " }"
    return f"[{', '.join(map(_toml, value))}]" if isinstance(value, list) else json.dumps(value)
