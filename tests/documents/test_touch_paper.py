"""A touch list on paper: what does not fit on one page goes on on the next, and nothing runs off the foot."""

from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from doorwright.cli.main import run
from tests.documents.test_pdf_pack import POINT_MM

TALL = Path(__file__).parents[2] / "examples" / "tall" / "tall.xlsx"
FOOT_MM = 15.0
"""The foot of a page is 17 mm, its footer stands in the last 13 mm of it."""


def test_a_directory_of_500_homes_is_printed_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = tmp_path / "tall.book"
    replacing = ("replace", "Front panel", "--serial", "P99913529", "--mac", "02-00-5E-53-99-A5")
    for words in (
        ("new", book, "--from", TALL),
        ("plan", book),
        ("change", book, *replacing, "--out", tmp_path),
    ):
        assert run([str(word) for word in words]) == 0, capsys.readouterr().err

    lines: list[str] = []

    def visit(text: str, cm: list[float], tm: list[float], *_: Any) -> None:
        height_mm = (tm[4] * cm[1] + tm[5] * cm[3] + cm[5]) * POINT_MM
        if text.strip() and height_mm > FOOT_MM:
            lines.extend(text.split())

    for page in PdfReader(tmp_path / "touch-list.pdf").pages:
        page.extract_text(visitor_text=visit)

    numbers = {f"{level:02d}{position:02d}" for level in range(1, 26) for position in range(1, 17)}
    assert len(numbers) == 400
    assert numbers - set(lines) == set()
