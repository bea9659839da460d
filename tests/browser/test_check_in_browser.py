"""Findings, drawings and plans in a real browser: what only a browser shows."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser import axe

BOOK = "/books/medium"


def test_findings_come_by_themselves_and_are_filtered_and_accepted(page: Page, address: str) -> None:
    page.goto(f"{address}{BOOK}/check")
    expect(page.locator("#found .finding").first).to_be_visible()
    before = page.locator("#found .finding").count()
    page.get_by_label("Find", exact=True).fill("cycle store")
    expect(page.locator("#found .finding", has_not_text="Cycle store")).to_have_count(0)
    page.get_by_text("Accept for a while").first.click()
    page.get_by_label("Why it may stand").fill("measured, it holds")
    page.get_by_role("button", name="Accept").click()
    expect(page.locator("#said")).to_contain_text("Accepted until")
    expect(page.locator("#found .finding")).to_have_count(before - 1)


def test_what_is_being_typed_is_not_swept_away_by_news(page: Page, address: str) -> None:
    page.goto(f"{address}{BOOK}/check")
    page.get_by_text("Accept for a while").first.click()
    page.get_by_label("Why it may stand").fill("half a reason")
    page.evaluate("document.body.dispatchEvent(new CustomEvent('news:findings', {detail: {counts: {}}}))")
    expect(page.locator("#stale")).to_be_visible()
    expect(page.get_by_label("Why it may stand")).to_have_value("half a reason")
    page.get_by_role("button", name="Show what they find now").click()
    expect(page.get_by_label("Why it may stand")).to_have_count(0)


def test_a_part_in_a_drawing_leads_to_its_sheet(page: Page, address: str) -> None:
    page.goto(f"{address}{BOOK}/drawings/levels-01")
    page.get_by_role("button", name="Enlarge").click()
    part = page.locator("[data-drawing] [data-part]").first
    part.focus()
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/books/medium/parts/\w+$"))


def test_on_paper_stands_the_drawing_alone(page: Page, address: str) -> None:
    page.goto(f"{address}{BOOK}/drawings/power")
    expect(page.locator(".drawing-bar")).to_be_visible()
    page.get_by_role("button", name="Enlarge").click()
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("[data-drawing] svg").get_attribute("viewBox") == "0 0 420.0 297.0"  # ISO 216, A3
    page.emulate_media(media="print")
    for hidden in ("h1", ".top", ".drawing-bar", ".foot"):
        expect(page.locator(hidden).first).not_to_be_visible()


@pytest.mark.parametrize(
    "step", ["plan", "check", "studies", "drawings", "drawings/riser", "places", "day", "schedule"]
)
def test_pages_have_no_faults_and_fit_a_phone(page: Page, address: str, step: str) -> None:
    page.goto(f"{address}{BOOK}/{step}")
    expect(page.locator("[data-being-made], [data-looking], .turning")).to_have_count(0)
    assert axe.faults(page) == []
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
