"""Every page, in day and night light and at three widths: axe finds nothing, and nothing is wider than the screen."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from doorwright.model.site import PART_BY_KIND
from doorwright.store.book import Book
from doorwright.web.ways import PHASES
from tests.browser import axe
from tests.browser.conftest import serving, watched

BOOK = "/books/medium"
PAGES = (
    "/",
    BOOK,
    *(f"{BOOK}/{way.step}" for phase in PHASES for way in phase.ways),
    f"{BOOK}/tables/dwellings",
    f"{BOOK}/tables/addresses",
    f"{BOOK}/tables/site",
    f"{BOOK}/check?by=place",
    f"{BOOK}/check/missing?kind=cable+run&field=length",
    f"{BOOK}/studies/voltage-at-the-lock",
    f"{BOOK}/drawings/riser",
    f"{BOOK}/changes/replace",
    f"{BOOK}/changes/renew-profile",
    f"{BOOK}/history/1",
    f"{BOOK}/history/compare?earlier=1&later=2",
    f"{BOOK}/lists/materials",
    f"{BOOK}/trail",
    f"{BOOK}/import",
    f"{BOOK}/onward",
    f"{BOOK}/seek?for=a",
    "/help?book=medium",
    "/help/rules?book=medium",
    "/help/rules/lock-voltage-too-low?book=medium",
    "/help/calculations",
    "/help/calculations/drain_a",
    "/help/words",
    "/help/columns",
    "/help/columns/Units",
    "/help/profiles",
    "/help/keyboard",
    "/help/cautions",
    "/books/tower",  # a book that is not there
    f"{BOOK}/nothing",  # a page that is not there
    "/jobs/none",
)
KINDS = ("dwelling", "entrance", "door", "unit", "secret", "subnet", "supply", "cable run", "divert")
"""The kinds of part whose sheets differ most: with and without a place in the drawing, calculations, ways to change."""
WIDTHS = (1920, 1024, 390)


@pytest.fixture(scope="module")
def site_address(tmp_path_factory: pytest.TempPathFactory, planned_book: Path) -> Iterator[str]:
    """One server for all these pages: none of them is changed."""
    shelf = tmp_path_factory.mktemp("shelf")
    shutil.copyfile(planned_book, shelf / "medium.book")
    with serving(shelf) as address:
        yield address


@pytest.fixture(scope="module")
def visitor(chromium: Browser, site_address: str) -> Iterator[Page]:
    """One page of one profile, which has seen the tour."""
    with watched(chromium, site_address) as context:
        context.add_init_script("if (location.protocol.startsWith('http')) localStorage.setItem('tour', 'left')")
        yield context.new_page()


@pytest.mark.parametrize("where", PAGES)
def test_a_page_is_sound_in_every_light_and_width(visitor: Page, site_address: str, where: str) -> None:
    assert _faults(visitor, f"{site_address}{where}") == []


@pytest.mark.parametrize("kind", KINDS)
def test_the_sheet_of_a_part_is_sound(visitor: Page, site_address: str, planned_book: Path, kind: str) -> None:
    with Book.open(planned_book, read_only=True) as book:
        part = book.site().table(PART_BY_KIND[kind])[0]
    assert _faults(visitor, f"{site_address}{BOOK}/parts/{part.id}") == []


def _faults(page: Page, where: str) -> list[str]:
    """Visit a page once and return what is wrong with it."""
    page.emulate_media(color_scheme="light")
    page.set_viewport_size({"width": WIDTHS[0], "height": 900})
    page.goto(where)
    expect(page.locator("main .turning")).to_have_count(0)  # what is worked out first has come
    found = axe.faults(page)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        wide = page.evaluate("document.documentElement.scrollWidth")
        if wide > width:
            found.append(f"{wide} pixels wide on a screen of {width}")
    page.emulate_media(color_scheme="dark")
    return [*found, *axe.contrast_faults(page)]
