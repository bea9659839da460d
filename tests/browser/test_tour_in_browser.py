"""The tour in a real browser: offered once, walked by keyboard, left at once, and never in the way."""

import pytest
from playwright.sync_api import Page, expect

from doorwright.web.tour import STOPS
from tests.browser import axe

HELP = ("/help?for=voltage", "/help/rules", "/help/words", "/help/words/vcu", "/help/keyboard", "/help/cautions")


def kept(page: Page) -> str | None:
    found: str | None = page.evaluate("localStorage.getItem('tour')")
    return found


def test_the_tour_is_offered_on_the_demos_building_and_a_no_is_remembered(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium")
    tour = page.get_by_role("region", name="The tour")
    expect(tour).to_contain_text("New here?")
    tour.get_by_role("button", name="No, thank you").click()
    expect(tour).to_be_hidden()
    page.reload()
    page.wait_for_selector("#light")
    expect(tour).to_be_hidden()
    assert kept(page) == "left"


def test_the_offer_stands_on_the_building_alone(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium/papers")
    expect(page.get_by_role("heading", name="Papers", level=1)).to_be_visible()
    expect(page.locator("#tour")).to_be_hidden()


def test_the_tour_is_walked_by_keyboard_from_the_first_stop_to_the_last(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium")
    page.get_by_role("link", name="Show me around").press("Enter")
    for number, stop in enumerate(STOPS, start=1):
        expect(page.locator("#tour")).to_contain_text(f"Tour, {number} of {len(STOPS)}")
        expect(page.locator("#tour b:visible")).to_have_text(stop.name)
        expect(page.locator(".pointed")).to_have_count(1)
        expect(page.locator("#tour")).to_be_focused()
        assert axe.faults(page) == []
        if number < len(STOPS):
            onward = page.get_by_role("link", name=f"Next: {STOPS[number].name}")
            page.keyboard.press("Tab")
            if number > 1:
                expect(page.get_by_role("link", name="Back", exact=True)).to_be_focused()
                page.keyboard.press("Tab")
            expect(onward).to_be_focused()
            page.keyboard.press("Enter")
    page.keyboard.press("Escape")
    expect(page.locator("#tour")).to_be_hidden()
    expect(page.locator(".pointed")).to_have_count(0)
    assert "#tour" not in page.url
    assert kept(page) == "left"


def test_beside_its_pages_the_tour_waits_with_the_way_on(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium/check#tour")
    expect(page.locator("#tour")).to_contain_text(f"Tour, 2 of {len(STOPS)}")
    page.goto(f"{address}/books/medium/history")
    onward = page.get_by_role("link", name="On with the tour: What the rules find")
    onward.click()
    expect(page.locator("#tour")).to_contain_text(f"Tour, 2 of {len(STOPS)}")
    page.get_by_role("button", name="Leave the tour").click()
    expect(page.locator("#tour")).to_be_hidden()


def test_help_leads_into_the_tour_again_after_it_was_left(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium")
    page.get_by_role("button", name="No, thank you").click()
    page.get_by_role("link", name="Help", exact=True).click()
    page.get_by_role("link", name="Who rings when").click()
    expect(page.locator("#tour")).to_contain_text(f"Tour, 3 of {len(STOPS)}")
    expect(page.locator(".phases .pointed")).to_have_text("Calls")


def test_the_tour_hides_nothing_on_a_phone(page: Page, address: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{address}/books/medium#tour")
    tour, main = page.locator("#tour"), page.locator("#main")
    expect(tour).to_be_visible()
    above, below = tour.bounding_box(), main.bounding_box()
    assert above is not None
    assert below is not None
    assert above["y"] + above["height"] <= below["y"] + 1
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("where", HELP)
def test_help_is_sound_and_no_wider_than_a_phone(page: Page, address: str, where: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{address}{where}")
    assert axe.faults(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
