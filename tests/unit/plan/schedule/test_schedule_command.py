"""The command `schedule` on the example building."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from doorwright.cli.main import run

WORKBOOK = Path(__file__).parents[4] / "examples" / "medium" / "medium.xlsx"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("schedule") / "tallow.book"
    assert run(["new", str(made), "--from", str(WORKBOOK), "--by", "Survey"]) == 0
    return made


def test_json_tells_each_technician_s_day(book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "days.svg"
    arguments = ["schedule", str(book), "--technicians", "3", "--seconds", "0", "--out", str(out), "--json"]
    assert run(arguments) == 0
    said = json.loads(capsys.readouterr().out)
    assert len(said["technicians"]) == 3
    assert said["bound_s"] <= said["finish_s"] < said["in_list_order_s"]
    assert said["finish_s"] == max(visit["end_s"] for day in said["technicians"] for visit in day)
    assert said["files"]
    for name in said["files"]:
        assert ET.parse(name).getroot().tag.endswith("svg")  # noqa: S314  (our own output)


def test_walks_and_times_are_taken(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def listed_s(*more: str) -> int:
        assert run(["schedule", str(book), "--technicians", "1", "--seconds", "0", "--json", *more]) == 0
        listed: int = json.loads(capsys.readouterr().out)["in_list_order_s"]
        return listed

    assert listed_s("--walk", "level=60") > listed_s()
    assert listed_s("--allow", "call=10") < listed_s()


def test_all_mistakes_are_told_at_once(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["--walk", "lift=4", "--walk", "level=fast", "--allow", "look=5", "--allow", "look=6", "--json"]
    assert run(["schedule", str(book), *arguments]) == 2
    mistakes = json.loads(capsys.readouterr().out)["mistakes"]
    assert [mistake["read"] for mistake in mistakes] == ["lift=4", "level=fast", "look=6"]


def test_a_drawing_is_an_svg_file(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["schedule", str(book), "--out", "days.png", "--seconds", "0"]) == 2
    assert "no SVG file" in capsys.readouterr().err


def test_the_list_is_printed(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["schedule", str(book), "--seconds", "0"]) == 0
    said = capsys.readouterr().out
    for words in ("Technician 2", "Finished after", "No schedule can be sooner", "in the order of the run sheet"):
        assert words in said
