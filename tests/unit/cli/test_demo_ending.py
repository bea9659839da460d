"""The demo ends by saying what to type next, as it must be typed where the user stands."""

import sys
from pathlib import Path

import pytest

from doorwright.app.demo import SITE
from doorwright.cli.own_name import typed
from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright


def program(at: Path) -> Path:
    at.parent.mkdir(parents=True, exist_ok=True)
    at.write_text("#!/bin/sh\n", encoding="utf-8")
    at.chmod(0o755)
    return at


def test_the_demo_ends_with_the_way_into_the_browser(doorwright: Doorwright, tmp_path: Path) -> None:
    out = tmp_path / "demo"
    ran = doorwright("demo", "--out", out)
    assert ran.code == 0
    assert ran.out.rstrip().splitlines()[-1].strip() == f"doorwright serve {out / 'medium.book'}"
    with Book.open(out / "medium.book", read_only=True) as book:
        assert book.site(book.head().number).name == SITE  # by which pages know the demo


def test_a_program_below_the_working_folder_is_named_from_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PATH", "")
    program(tmp_path / ".venv" / "bin" / "doorwright")
    monkeypatch.setattr(sys, "argv", [str(Path(".venv", "bin", "doorwright"))])
    path = Path("build", "demo", "medium.book")
    assert typed("serve", path) == f"{Path('.venv', 'bin', 'doorwright')} serve {path}"


def test_a_program_that_the_shell_finds_is_called_by_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    there = program(tmp_path / "bin" / ("doorwright.exe" if sys.platform == "win32" else "doorwright"))
    monkeypatch.setenv("PATH", str(there.parent))
    monkeypatch.setattr(sys, "argv", [str(there)])
    assert typed("check", "my tower.book").startswith("doorwright check ")


def test_another_program_of_that_name_is_not_taken_for_ours(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ours, other = (program(tmp_path / name / "doorwright") for name in ("ours", "other"))
    monkeypatch.setenv("PATH", str(other.parent))
    monkeypatch.setattr(sys, "argv", [str(ours)])
    monkeypatch.chdir(other.parent)
    assert typed("plan") == f"{ours} plan"


def test_a_module_is_called_by_its_python(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", [str(tmp_path / "doorwright" / "__main__.py")])
    monkeypatch.setattr(sys, "executable", str(tmp_path / "env" / "bin" / "python"))
    assert typed("serve") == f"{Path('env', 'bin', 'python')} -m doorwright serve"
