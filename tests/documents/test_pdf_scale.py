"""What is cut out or stuck on must have its true size: measured on the page, in the units of the file."""

from collections.abc import Iterator
from io import BytesIO
from itertools import pairwise
from typing import Any

import pytest
from pypdf import PageObject, PdfReader

from doorwright.render.pdf.papers.labels import SHEET
from tests.documents.sample_site import sample
from tests.documents.test_pdf_pack import POINT_MM, made

PLACED = list[tuple[str, float, float]]


def placed(page: PageObject) -> PLACED:
    """Every piece of text with its place, millimetres from the left and from the foot."""
    found: PLACED = []

    def visit(text: str, cm: list[float], tm: list[float], *_: Any) -> None:
        if text.strip():
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            found.append((text.strip(), x * POINT_MM, y * POINT_MM))

    page.extract_text(visitor_text=visit)
    return found


@pytest.fixture(scope="module")
def pages() -> list[PageObject]:
    return list(PdfReader(BytesIO(made(sample(32).site))).pages)


def with_head(pages: list[PageObject], head: str) -> Iterator[PageObject]:
    return (page for page in pages if page.extract_text().lstrip().startswith(head))


def test_legend_strips_stand_at_the_pitch_of_the_data_sheet(pages: list[PageObject]) -> None:
    # key-module-6 in data/profiles.toml: a legend is 60 mm by 14 mm. A701 to A704 are four keys of one module.
    texts = {text: y for page in with_head(pages, "Key legends") for text, _, y in placed(page)}
    for upper, lower in (("A701", "A702"), ("A702", "A703"), ("A703", "A704")):
        assert texts[upper] - texts[lower] == pytest.approx(14.0, abs=0.05)


def test_the_check_ruler_is_100_mm_long(pages: list[PageObject]) -> None:
    for page in with_head(pages, "Key legends"):
        texts = placed(page)
        left = next(x for text, x, _ in texts if text == "0")
        right = next(x for text, x, _ in texts if text == "100")
        assert right - left == pytest.approx(100.0, abs=0.05)


def test_labels_stand_at_the_pitch_of_the_sheet(pages: list[PageObject]) -> None:
    # 63.5 × 33.9 mm, three by eight on A4, no gap between rows (common practice): 8 × 33.9 + 2 × 12.9 = 297.
    assert SHEET.rows * SHEET.height_mm + 2 * SHEET.top_mm == pytest.approx(297, abs=0.1)
    assert SHEET.columns * SHEET.width_mm + 2 * SHEET.gap_x_mm + 2 * SHEET.left_mm == pytest.approx(210, abs=0.1)
    sheet = next(with_head(pages, "Labels"))
    urus = sorted((x, y) for text, x, y in placed(sheet) if text == "URU")
    rows = sorted({round(y, 1) for _, y in urus})
    columns = sorted({round(x, 1) for x, _ in urus})
    assert len(columns) == 3
    assert {round(b - a, 1) for a, b in pairwise(rows)} == {33.9}
    assert [b - a for a, b in pairwise(columns)] == pytest.approx([66.05, 66.05], abs=0.11)
