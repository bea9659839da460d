"""The house rules about source files."""

import ast
from pathlib import Path

import pytest

import doorwright

SOURCE = Path(doorwright.__path__[0])
FILES = sorted(SOURCE.rglob("*.py"))
LINES_MAX = 450


def named(path: Path) -> str:
    return path.relative_to(SOURCE).as_posix()


@pytest.mark.parametrize("path", FILES, ids=named)
def test_every_module_says_what_it_is_for(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert ast.get_docstring(ast.parse(text)), f"{named(path)} has no docstring"


@pytest.mark.parametrize("path", FILES, ids=named)
def test_no_file_is_long(path: Path) -> None:
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]
    assert len(lines) <= LINES_MAX, f"{named(path)} has {len(lines)} lines that are not blank: split it"


def test_no_module_is_a_drawer_for_odds_and_ends() -> None:
    drawers = {"utils", "util", "helpers", "helper", "manager", "managers", "common", "misc"}
    assert [named(path) for path in FILES if drawers & {*path.relative_to(SOURCE).with_suffix("").parts}] == []


def test_every_folder_of_code_is_a_package() -> None:
    folders = {path.parent for path in FILES}
    assert [named(folder) for folder in sorted(folders) if not (folder / "__init__.py").exists()] == []
