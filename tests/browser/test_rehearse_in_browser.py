"""The rehearsal in a real browser: a fault put in, what is seen of it, the call that went otherwise, its ladder."""

import re

from playwright.sync_api import Page, expect

from tests.browser import axe

REHEARSAL = "/books/medium/rehearsal"


def fits_a_phone(page: Page) -> bool:
    page.set_viewport_size({"width": 390, "height": 844})
    fits: bool = page.evaluate("document.documentElement.scrollWidth") <= 390
    page.set_viewport_size({"width": 1366, "height": 900})
    return fits


def test_a_fault_is_put_in_seen_and_drawn(page: Page, address: str) -> None:
    page.goto(f"{address}{REHEARSAL}")
    page.get_by_text("Faults put in on purpose").click()
    assert axe.faults(page) == []
    page.get_by_label("Units with SIP secret differs").fill("URU 39")
    page.get_by_role("button", name="Rehearse revision").click()
    page.wait_for_url(re.compile(rf"{REHEARSAL}/[\w-]+$"))
    expect(page.get_by_role("heading", name="Rehearsed, revision")).to_be_visible()
    seen = page.get_by_role("region", name="What is seen")
    expect(seen).to_contain_text("answered 401 for ever")
    expect(seen).to_contain_text("URU 39")
    assert axe.faults(page) == []
    assert axe.contrast_faults(page) == []
    assert fits_a_phone(page)

    page.get_by_label("How they went").select_option("all")
    status = page.locator("#calls [role=status]")
    expect(status).to_contain_text("1 to 100 of")
    page.get_by_label("Find", exact=True).fill("to 39")
    expect(page.locator("#calls tr.otherwise").first).to_be_visible()
    expect(page.locator("#calls tbody tr", has_not_text="to 39")).to_have_count(0)

    page.locator("#calls tr.otherwise a").first.click()
    expect(page.locator("[data-drawing] svg")).to_be_visible()
    expect(page.locator(".drawing-bar")).to_be_visible()
    before = page.locator("[data-drawing] svg").get_attribute("viewBox")
    page.get_by_role("button", name="Enlarge").click()
    assert page.locator("[data-drawing] svg").get_attribute("viewBox") != before
    page.get_by_text("The same as a table").click()
    expect(page.get_by_role("region", name="Steps of the call")).to_contain_text("INVITE")
    assert axe.faults(page) == []
    assert fits_a_phone(page)
    for name, suffix in (("Keep as SVG", ".svg"), ("Keep the packets", ".pcapng")):
        with page.expect_download() as kept:
            page.get_by_role("link", name=name).click()
        assert kept.value.suggested_filename.endswith(suffix)


def test_the_files_for_servers_are_taken_along_twice(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium/services")
    assert axe.faults(page) == []
    for _ in range(2):  # a form that gives a file out leaves the page as it is, and can be sent again
        with page.expect_download() as taken:
            page.get_by_role("button", name="Download without secrets").click()
        assert taken.value.suggested_filename == "medium-revision-2-servers.zip"
    page.get_by_role("link", name="chrony.conf").click()
    expect(page.locator("pre")).to_contain_text("chrony")
    assert axe.faults(page) == []
    assert fits_a_phone(page)
