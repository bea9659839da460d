"""What `make mutate` leaves out: decorators, annotations, docstrings, and lines that are there with their reasons."""

import re
import tomllib
from pathlib import Path

import pytest

from tests.mutation.judged import Judged, unjudged_spans

ROOT = Path(__file__).parents[2]
SETTINGS = tomllib.loads((ROOT / "tests" / "mutation" / "mutation.toml").read_text(encoding="utf-8"))

MODULE = '''"""A text."""

@cached("é", slots=True)
def half(a_mm: int | None) -> float | None:
    """Return it."""
    most: int | None = 3
    return a_mm / 2
'''
EVERYTHING = Judged(operators=re.compile("(?!)"), lines={})


def at(line: int, words: str) -> tuple[int, int]:
    return line, MODULE.splitlines()[line - 1].index(words)


@pytest.mark.parametrize(
    ("position", "judged"),
    [
        (at(1, '"""A'), False), (at(3, "@"), False), (at(3, "slots"), False), (at(3, "True"), False),
        (at(4, "| None)"), False), (at(4, "| None:"), False), (at(5, '"""'), False), (at(6, "|"), False),
        (at(6, "3"), True), (at(7, "/"), True), (at(7, "2"), True),
    ],
)  # fmt: skip
def test_what_no_test_could_judge_is_left_out(tmp_path: Path, position: tuple[int, int], *, judged: bool) -> None:
    module = tmp_path / "module.py"
    module.write_text(MODULE, encoding="utf-8")
    assert EVERYTHING.starts(module, [("any", position)]) == [judged]


def test_operators_and_lines_are_left_out_by_the_settings(tmp_path: Path) -> None:
    module = tmp_path / "module.py"
    module.write_text(MODULE, encoding="utf-8")
    aside = {"module": "module", "line": "return a_mm / 2", "reason": "a trial"}
    some = Judged.of({"left-out-operators": ["core/Shift_.*"], "set-aside": [aside]})
    mutations = [("core/Shift_Left", at(6, "3")), ("core/Number", at(6, "3")), ("core/Number", at(7, "2"))]
    assert some.starts(module, mutations) == [False, True, False]


def test_a_line_that_is_gone_is_told(tmp_path: Path) -> None:
    module = tmp_path / "module.py"
    module.write_text("x = 1\n", encoding="utf-8")
    aside = {"module": "module", "line": "x = 2", "reason": "a trial"}
    with pytest.raises(LookupError, match=r"module.py has no such line any more: x = 2"):
        Judged.of({"left-out-operators": [], "set-aside": [aside]}).starts(module, [])
    with pytest.raises(ValueError, match="no reason"):
        Judged.of({"left-out-operators": [], "set-aside": [{**aside, "reason": " "}]})


def test_the_settings_name_what_is_there() -> None:
    modules = ROOT / SETTINGS["module-path"]
    judged = Judged.of(SETTINGS)
    for name in {*SETTINGS["first-tests"], *judged.lines}:
        module = modules / f"{name}.py"
        assert judged.starts(module, []) == []
        assert list(unjudged_spans(module.read_text(encoding="utf-8")))
    named = {*SETTINGS["tests"], *(path for paths in SETTINGS["first-tests"].values() for path in paths)}
    assert [path for path in sorted(named) if not (ROOT / path).exists()] == []
