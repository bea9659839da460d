"""Every page, in day and night light and at three widths: axe finds nothing, and nothing is wider than the screen."""

from typing import Literal

import pytest
from playwright.sync_api import Page

from tests.browser import axe

PAGES = (
    "/",
    "/books/medium",
    "/books/tower",
    "/books/medium/tables",
    "/books/medium/tables/dwellings",
    "/books/medium/tables/addresses",
    "/books/medium/tables/site",
    "/books/medium/run-sheet",
    "/books/medium/found",
    "/books/medium/signatures",
    "/books/medium/secrets",
    "/books/medium/trail",
    "/help?book=medium",
    "/help/rules/lock-voltage-too-low?book=medium",
    "/help/calculations/drain_a",
    "/help/columns/Units",
)
LIGHTS: tuple[Literal["light", "dark"], ...] = ("light", "dark")
WIDTHS = (390, 1024, 1920)


@pytest.mark.parametrize("where", PAGES)
def test_axe_finds_nothing(page: Page, address: str, where: str) -> None:
    for light in LIGHTS:
        page.emulate_media(color_scheme=light)
        page.goto(f"{address}{where}")
        assert axe.faults(page) == []


@pytest.mark.parametrize("where", PAGES)
def test_no_page_is_wider_than_the_screen(page: Page, address: str, where: str) -> None:
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        page.goto(f"{address}{where}")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
