"""Lettering and the writer of SVG: widths, shortening, escaping, and the renderer that makes the PDF."""

import io
import string
import xml.etree.ElementTree as ET
from pathlib import Path

import pypdf
import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st

from doorwright.model.walk import Walk
from doorwright.render.svg import lettering
from doorwright.render.svg.canvas import Canvas
from doorwright.render.svg.geometry import Box, lanes, shares
from doorwright.render.svg.riser import riser
from tests.documents import svg_sites

# advances in em of DejaVu Sans (hmtx over 2048), read from the font file itself
DEJAVU_SANS = {"Level 8": 3.611, "SW-A5: 3 × cat6, ≤ 35 m": 12.616, "Orchard Court": 7.105, "1801": 2.545}


@pytest.mark.parametrize("text", DEJAVU_SANS)
def test_widths_are_near_the_font(text: str) -> None:
    assert lettering.width_mm(text, 1.0) == pytest.approx(DEJAVU_SANS[text], rel=0.08)


@given(st.text(max_size=80), st.floats(2, 60))
def test_fitted_text_fits_and_begins_alike(text: str, room_mm: float) -> None:
    shown = lettering.fit(text, room_mm, 2.0)
    assert shown == text or shown.endswith("…")
    assert lettering.width_mm(shown, 2.0) <= max(room_mm, lettering.width_mm("…", 2.0)) + 1e-9
    assert shown == text or text.startswith(shown[:-1])


def test_clusters_are_not_cut() -> None:
    family = "👩\u200d👩\u200d👧"
    for room_mm in range(2, 30):
        shown = lettering.fit(f"{family}{family}", room_mm, 2.0).removesuffix("…")
        assert shown in ("", family, family * 2)


@given(st.text(st.characters(exclude_categories=()), max_size=60))
def test_any_text_makes_well_formed_xml(text: str) -> None:
    canvas = Canvas()
    with canvas.group(text, part=text):
        canvas.text(10, 10, text, room_mm=30)
    svg = canvas.text_of(width_mm=50, height_mm=50, title=text, description=text)
    assert ET.fromstring(svg.encode()).tag.endswith("svg")  # noqa: S314  (our own output)


def test_too_small_text_is_refused() -> None:
    with pytest.raises(ValueError, match=r"below 1\.8 mm"):
        Canvas().view(0, 0, 0.8).text(0, 0, "tiny", room_mm=20, size_mm=2.0)


def test_shares_are_few_and_even() -> None:
    # 5 × 10 into 30: two runs at least (50 > 30), and no better than 30 + 20
    assert [len(run) for run in shares([10] * 5, 30)] == [3, 2]
    assert [len(run) for run in shares([10] * 6, 40)] == [3, 3]
    assert shares([], 10) == ()
    assert [list(run) for run in shares([50, 1], 10)] == [[0], [1]]


@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)).map(lambda pair: (min(pair), max(pair)))))
def test_lanes_never_share_a_stretch(spans: list[tuple[int, int]]) -> None:
    given_lanes = lanes(spans)
    for i, (start, end) in enumerate(spans):
        for k, (other_start, other_end) in enumerate(spans[:i]):
            assert given_lanes[i] != given_lanes[k] or end < other_start or other_end < start


def test_overlap_and_holding() -> None:
    box = Box(0, 0, 10, 10)
    assert box.overlaps(Box(9, 9, 5, 5))
    assert not box.overlaps(Box(10, 0, 5, 5))
    assert box.holds(Box(1, 1, 9, 9))
    assert not box.holds(Box(1, 1, 10, 5))


def test_the_pdf_writer_draws_the_text(tmp_path: Path) -> None:
    """Typst embeds the drawing in a PDF; its text must come out as text, figures and umlauts included."""
    drawing = riser(Walk(svg_sites.orchard_court()), revision="Prüfung 7", on="2031-03-14")[0]
    source = '#set page(width: 420mm, height: 297mm, margin: 0mm)\n#image("drawing.svg", width: 420mm)'
    (tmp_path / "main.typ").write_text(source, encoding="utf-8")
    (tmp_path / "drawing.svg").write_text(drawing.svg, encoding="utf-8")
    pdf = typst.compile(str(tmp_path / "main.typ"))
    page = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    said = page.extract_text()
    assert float(page.mediabox.width) == pytest.approx(420 / 25.4 * 72, abs=0.1)
    for words in ("Orchard", "A101", "SW-A1", "Prüfung"):
        assert words in said
    assert not set(said) & set(string.whitespace[4:])
