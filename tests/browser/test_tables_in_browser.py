"""Tables in a real browser: typing, pasting, undoing, sorting, and two people at the same cell."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, expect

from doorwright.store.book import Book
from tests.browser import axe

SAVED = "All saved"


def _open(page: Page, address: str, sheet: str) -> None:
    page.goto(f"{address}/books/medium/tables/{sheet}")
    expect(page.locator("#frame[data-ready=yes]")).to_be_visible()


def _cell(page: Page, row: int, heading: str) -> Any:
    """The cell of a shown row, counted from 0, below a heading."""
    headings = [text.rstrip(" *▲▼") for text in page.locator(".grid-sort").all_inner_texts()]
    return page.locator(f"#cell-{row}-{headings.index(heading)}")


def _paste(page: Page, text: str) -> None:
    page.evaluate(
        """text => {
            const data = new DataTransfer();
            data.setData("text/plain", text);
            document.activeElement.dispatchEvent(new ClipboardEvent("paste", {clipboardData: data, bubbles: true}));
        }""",
        text,
    )


def _site(shelf: Path) -> Any:
    with Book.open(shelf / "medium.book", read_only=True) as book:
        return book.site()


def _legends(shelf: Path) -> dict[str, str | None]:
    return {dwelling.door_label: dwelling.legend for dwelling in _site(shelf).dwellings}


def test_the_keyboard_alone_edits_fills_undoes_and_does_again(page: Page, address: str, shelf: Path) -> None:
    _open(page, address, "dwellings")
    page.locator("#grid").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")  # Dwelling, Core, Level, Call number, Legend
    page.keyboard.press("ArrowDown")
    page.keyboard.type("Garden flat")
    page.keyboard.press("Enter")
    expect(_cell(page, 1, "Legend")).to_have_text("Garden flat")
    expect(page.locator("#state")).to_have_text(SAVED)
    assert _legends(shelf)["2"] == "Garden flat"
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Control+d")
    expect(_cell(page, 3, "Legend")).to_have_text("Garden flat")
    expect(page.locator("#state")).to_have_text(SAVED)
    assert [_legends(shelf)[label] for label in ("2", "3", "4", "5")] == [*["Garden flat"] * 3, None]
    page.keyboard.press("Control+z")
    expect(_cell(page, 3, "Legend")).to_have_text("")
    expect(page.locator("#state")).to_have_text(SAVED)
    assert _legends(shelf)["4"] is None
    page.keyboard.press("Control+y")
    expect(_cell(page, 3, "Legend")).to_have_text("Garden flat")
    page.keyboard.press("F2")
    page.keyboard.press("Escape")
    page.keyboard.press("Delete")
    expect(page.locator("#state")).to_have_text(SAVED)
    expect(_cell(page, 1, "Legend")).to_have_text("")
    page.keyboard.press("Escape")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") != "grid"


def test_five_hundred_rows_are_pasted_and_a_mistake_among_them_is_kept(page: Page, address: str, shelf: Path) -> None:
    _open(page, address, "dwellings")
    # rows as a spreadsheet program copies them; the level of one is written wrong
    lines = [f"N{number}\tStair A\t{'Loft' if number == 77 else 'G'}" for number in range(1, 501)]
    page.locator("#grid").focus()
    page.keyboard.press("Control+End")
    page.keyboard.press("Home")
    _paste(page, "\n".join(lines) + "\n")
    expect(page.locator("#problems h2")).to_have_text("Not saved: 1 cell")
    expect(page.locator("#problems")).to_contain_text("there is no level of this name")
    page.keyboard.press("ArrowUp")
    expect(page.locator("#state")).to_have_text("1 not saved")
    assert len(_site(shelf).dwellings) == 64 + 499
    page.locator("#problems button").first.click()
    page.keyboard.type("1")
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    expect(page.locator("#state")).to_have_text(SAVED)
    site = _site(shelf)
    assert len(site.dwellings) == 64 + 500
    levels = {level.id: level.name for level in site.levels}
    assert levels[next(one.level for one in site.dwellings if one.door_label == "N77")] == "1"


def test_two_editors_of_one_cell_see_each_other_and_one_puts_theirs_again(
    chromium: Browser, page: Page, address: str, shelf: Path
) -> None:
    other_context = chromium.new_context()
    other = other_context.new_page()
    _open(page, address, "dwellings")
    _open(other, address, "dwellings")
    # the first cannot save for a while: the other is quicker
    page.context.set_offline(True)
    _cell(page, 2, "Legend").click()
    page.keyboard.type("Mine")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#state")).to_have_text("The server does not answer; trying again")
    _cell(other, 2, "Legend").click()
    other.keyboard.type("Theirs")
    other.keyboard.press("Enter")
    _cell(other, 4, "Legend").click()
    other.keyboard.type("Beside")
    other.keyboard.press("Enter")
    expect(other.locator("#state")).to_have_text(SAVED)
    page.context.set_offline(False)
    expect(page.locator("#problems li")).to_contain_text('wrote "Theirs" meanwhile')
    expect(_cell(page, 4, "Legend")).to_have_text("Beside")
    assert axe.faults(page) == []
    page.get_by_role("button", name="Put mine again").click()
    expect(page.locator("#state")).to_have_text(SAVED)
    assert _legends(shelf)["3"] == "Mine"
    expect(_cell(other, 2, "Legend")).to_have_text("Mine")  # news reach the other page by themselves
    other_context.close()


def test_a_sorted_and_filtered_table_alters_the_row_that_is_seen(page: Page, address: str, shelf: Path) -> None:
    _open(page, address, "dwellings")
    page.get_by_role("button", name="Filters").click()
    page.get_by_label("Filter Core").fill("stair b")
    page.locator(".grid-sort", has_text="Dwelling").click()
    page.locator(".grid-sort", has_text="Dwelling").click()
    label = _cell(page, 0, "Dwelling").inner_text()
    site = _site(shelf)
    core = next(core.id for core in site.cores if core.name == "Stair B")
    assert int(label) == max(int(one.door_label) for one in site.dwellings if one.core == core)
    _cell(page, 0, "Legend").click()
    page.keyboard.type("Highest of B")
    page.keyboard.press("Enter")
    expect(page.locator("#state")).to_have_text(SAVED)
    assert [of for of, legend in _legends(shelf).items() if legend == "Highest of B"] == [label]


def test_a_cell_being_typed_stays_the_same_when_rows_above_go(
    chromium: Browser, page: Page, address: str, shelf: Path
) -> None:
    _open(page, address, "dwellings")
    label = _cell(page, 6, "Dwelling").inner_text()
    _cell(page, 6, "Legend").click()
    page.keyboard.type("Typed mean")
    other_context = chromium.new_context()
    other = other_context.new_page()
    _open(other, address, "dwellings")
    _cell(other, 1, "Dwelling").click()
    other.get_by_role("button", name="Take rows out").click()
    expect(_cell(page, 5, "Dwelling")).to_have_text(label)
    page.keyboard.type("while")
    page.keyboard.press("Enter")
    expect(page.locator("#state")).to_have_text(SAVED)
    assert _legends(shelf)[label] == "Typed meanwhile"
    other.keyboard.press("Control+z")
    expect(_cell(page, 6, "Dwelling")).to_have_text(label)
    assert _legends(shelf)[label] == "Typed meanwhile"
    other_context.close()


def test_copying_gives_what_spreadsheet_programs_paste(page: Page, address: str) -> None:
    _open(page, address, "dwellings")
    _cell(page, 0, "Dwelling").click()
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Shift+ArrowDown")
    copied = page.evaluate(
        """() => {
            const data = new DataTransfer();
            document.activeElement.dispatchEvent(new ClipboardEvent("copy", {clipboardData: data, bubbles: true}));
            return data.getData("text/plain");
        }"""
    )
    assert copied == "1\tStair A\n2\tStair A"


def _modules(page: Page, address: str) -> Callable[[str, str], Any]:
    page.goto(f"{address}/books/medium/tables/site")
    return lambda module, call: page.evaluate(f"import('/static/grid/{module}.js').then(found => {call})")


def test_texts_of_the_clipboard_series_and_filters(page: Page, address: str) -> None:
    of = _modules(page, address)
    # RFC 4180 §2, with tabs: quotes around cells with separators or line breaks, doubled quotes inside
    pasted = 'a\t"two\nlines"\t"say ""hi"""\r\nb\t\t5" pipe\r\n'
    assert of("tsv", f"found.parse({json.dumps(pasted)})") == [["a", "two\nlines", 'say "hi"'], ["b", "", '5" pipe']]
    assert of("tsv", 'found.parse("a\\t")') == [["a", ""]]
    assert of("tsv", 'found.format([["a\\tb", "c"], ["\\"q", "d"]])') == '"a\tb"\tc\n"""q"\td'
    assert of("series", 'found.continued(["1", "3"], 3)') == ["5", "7", "9"]
    assert of("series", 'found.continued(["G08", "G09"], 2)') == ["G10", "G11"]
    assert of("series", 'found.continued(["A", "B"], 3)') == ["A", "B", "A"]
    assert of("series", 'found.continued(["7"], 2)') == ["7", "7"]
    assert of("order", '["Flat 10", "", "Flat 2"].sort(found.byNature)') == ["Flat 2", "Flat 10", ""]
    assert of("order", '["12", "2", ""].filter(found.sieve("=2"))') == ["2"]
    assert of("order", '["12", "2", ""].filter(found.sieve("!1"))') == ["2", ""]


def test_a_phone_edits_by_tapping(chromium: Browser, address: str, shelf: Path) -> None:
    context = chromium.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    phone = context.new_page()
    _open(phone, address, "units")
    _cell(phone, 1, "Name").tap()
    name = _cell(phone, 1, "Name").inner_text()
    _cell(phone, 1, "Name").tap()
    phone.locator(".grid-field").fill(f"{name} west")
    phone.keyboard.press("Enter")
    expect(phone.locator("#state")).to_have_text(SAVED)
    assert f"{name} west" in {unit.name for unit in _site(shelf).units}
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    context.close()
