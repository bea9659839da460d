"""The run sheet on a phone whose link drops: nothing is lost, nothing is recorded twice."""

import socket
import struct
import threading
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Locator, Page, Route, expect

from doorwright.app.means import Means
from doorwright.kernel.work import Deed, WorkRecord
from doorwright.store.book import Book
from doorwright.web.application import application
from tests.unit.store.pictures import REAL_PNG, chunk

PHONE = {"width": 390, "height": 844}
SENDING = "**/run-sheet/records"


class Server:
    """A server that can be stopped, and started again at the same address."""

    def __init__(self, shelf: Path) -> None:
        self.shelf = shelf
        self.port = 0

    def start(self) -> None:
        self._listening = socket.create_server(("127.0.0.1", self.port), reuse_port=False)
        self.port = self._listening.getsockname()[1]
        app = application(self.shelf, Means(who="Ada Planner"), hosts=frozenset({f"127.0.0.1:{self.port}"}))
        self._server = uvicorn.Server(
            uvicorn.Config(app, log_level="critical", access_log=False, timeout_graceful_shutdown=1)
        )
        self._thread = threading.Thread(target=self._server.run, kwargs={"sockets": [self._listening]})
        self._thread.start()

    def stop(self) -> None:
        self._server.should_exit = True
        self._thread.join()
        self._listening.close()

    @property
    def sheet(self) -> str:
        return f"http://127.0.0.1:{self.port}/books/medium/run-sheet"

    def records(self) -> tuple[WorkRecord, ...]:
        with Book.open(self.shelf / "medium.book", read_only=True) as book:
            return book.work().records


@pytest.fixture
def server(shelf: Path) -> Iterator[Server]:
    server = Server(shelf)
    server.start()
    yield server
    server.stop()


@pytest.fixture
def phone(chromium: Browser) -> Iterator[BrowserContext]:
    """A phone's browser. A script that fails, fails the test."""
    faults: list[str] = []
    context = chromium.new_context(viewport=PHONE, has_touch=True)  # type: ignore[arg-type]
    context.set_default_timeout(20_000)
    context.on("weberror", lambda error: faults.append(str(error.error)))
    yield context
    context.close()
    assert not faults, f"scripts failed: {faults}"


def opened(context: BrowserContext, server: Server) -> Page:
    page = context.new_page()
    page.goto(server.sheet)
    page.wait_for_selector("#run-sheet[data-ready]")
    return page


def task(page: Page, number: int) -> Locator:
    return page.locator(f"#task-{number}")


def tick(page: Page, number: int) -> None:
    task(page, number).get_by_role("button", name=f"Done: task {number}", exact=True).click()
    expect(task(page, number)).to_have_attribute("data-done", "yes")


def note(page: Page, number: int, text: str) -> None:
    more = task(page, number).locator("details.more")
    if more.get_attribute("open") is None:
        more.locator("summary").click()
    more.get_by_label("Note").fill(text)
    more.get_by_role("button", name="Keep the note").click()


def photograph(page: Page, number: int, content: bytes) -> None:
    more = task(page, number).locator("details.more")
    if more.get_attribute("open") is None:
        more.locator("summary").click()
    more.get_by_label("Photograph").set_input_files({"name": "lid.png", "mimeType": "image/png", "buffer": content})
    more.get_by_role("button", name="Keep the photograph").click()


def said(page: Page) -> Locator:
    return page.locator(".said-of-link")


def wide_png(width_px: int, height_px: int) -> bytes:
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width_px, height_px, 8, 0, 0, 0, 0))
    rows = zlib.compress((b"\0" + bytes(width_px)) * height_px)
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"tEXt", b"where\0here") + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def test_what_is_recorded_while_the_link_is_down_is_sent_in_order_when_it_is_back(
    phone: BrowserContext, server: Server
) -> None:
    page = opened(phone, server)
    phone.set_offline(True)
    tick(page, 1)
    note(page, 1, "lid was loose")
    photograph(page, 1, wide_png(3000, 20))
    tick(page, 2)
    expect(said(page)).to_contain_text("4 waiting to be sent")
    expect(task(page, 1).locator("[data-waiting] li")).to_have_count(3)
    assert server.records() == ()

    phone.set_offline(False)
    expect(said(page)).to_have_text("Everything is sent.")
    records = server.records()
    assert [one.deed for one in records] == [Deed.DONE, Deed.NOTE, Deed.PHOTOGRAPH, Deed.DONE]
    assert all(one.done_at <= one.received_at for one in records)
    expect(task(page, 1).locator("[data-part=records] li")).to_have_count(3)
    expect(page.locator("#how-far")).to_contain_text("2 of 118")
    with Book.open(server.shelf / "medium.book", read_only=True) as book:
        kept = book.photograph(records[2].value)
    assert kept is not None
    frame = kept.content.index(b"\xff\xc0")  # SOF0: height and width stand 5 bytes behind (T.81 §B.2.2)
    assert struct.unpack(">HH", kept.content[frame + 5 : frame + 9]) == (14, 2048)  # 20 * 2048 / 3000 = 13.65


def test_a_record_whose_answer_was_lost_is_not_recorded_twice(phone: BrowserContext, server: Server) -> None:
    page = opened(phone, server)
    lost: list[int] = []

    def lose_first_answers(route: Route) -> None:
        if len(lost) < 2:
            lost.append(route.fetch().status)  # the server has it, the phone never hears so
            route.abort()
        else:
            route.continue_()

    page.route(SENDING, lose_first_answers)
    tick(page, 1)
    photograph(page, 1, REAL_PNG)
    expect(said(page)).to_have_text("Everything is sent.")
    assert lost == [200, 200]
    assert [one.deed for one in server.records()] == [Deed.DONE, Deed.PHOTOGRAPH]


def test_the_page_opens_and_records_while_the_server_is_down_and_sends_when_it_is_up_again(
    phone: BrowserContext, server: Server
) -> None:
    page = opened(phone, server)
    page.wait_for_selector("#run-sheet[data-offline]")  # the worker has what the page needs
    tick(page, 1)
    expect(said(page)).to_have_text("Everything is sent.")
    server.stop()
    tick(page, 2)
    expect(said(page)).to_contain_text("1 waiting")
    page.reload()
    page.wait_for_selector("#run-sheet[data-ready]")
    expect(task(page, 2)).to_have_attribute("data-done", "yes")
    note(page, 2, "typed in the cellar")
    expect(said(page)).to_contain_text("2 waiting")
    page.close()  # and the phone goes into the pocket

    server.start()
    page = opened(phone, server)
    expect(task(page, 2).locator("[data-part=records] li")).to_have_count(2)
    expect(said(page)).not_to_contain_text("waiting")
    assert [one.value for one in server.records()] == ["", "", "typed in the cellar"]


def test_two_phones_see_one_another_on_the_same_task(chromium: Browser, phone: BrowserContext, server: Server) -> None:
    with chromium.new_context(viewport=PHONE) as other:  # type: ignore[arg-type]
        first, second = opened(phone, server), opened(other, server)
        tick(first, 1)
        expect(task(second, 1)).to_have_attribute("data-done", "yes")
        note(second, 1, "from the other phone")
        expect(task(first, 1).locator("[data-part=records]")).to_contain_text("from the other phone")
        task(second, 1).get_by_role("button", name="Not done after all: task 1").click()
        expect(task(first, 1)).to_have_attribute("data-done", "no")
    assert [one.deed for one in server.records()] == [Deed.DONE, Deed.NOTE, Deed.NOT_DONE]


def test_a_trembling_finger_ticks_once(phone: BrowserContext, server: Server) -> None:
    page = opened(phone, server)
    task(page, 1).get_by_role("button", name="Done: task 1", exact=True).dblclick()
    expect(said(page)).to_have_text("Everything is sent.")
    expect(task(page, 1)).to_have_attribute("data-done", "yes")
    assert [one.deed for one in server.records()] == [Deed.DONE]


def test_everything_can_be_done_with_the_keyboard(phone: BrowserContext, server: Server) -> None:
    page = opened(phone, server)
    page.locator("#next-open").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Done: task 1", exact=True)).to_be_focused()
    page.keyboard.press("Enter")
    expect(task(page, 1)).to_have_attribute("data-done", "yes")
    page.keyboard.press("Tab")  # the clock
    page.keyboard.press("Enter")
    expect(task(page, 1).locator(".clock")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("Tab")  # what to enter
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # opens the note and what is beside it
    figure = task(page, 1).get_by_label("Figure read off at task 1")
    for _ in range(10):
        page.keyboard.press("Tab")
        if figure.evaluate("field => field === document.activeElement"):
            break
    page.keyboard.type("1000")
    page.keyboard.press("Enter")  # keeps the reading, and does not tick the task
    expect(task(page, 1).locator("[data-part=records]")).to_contain_text("link speed: 1000 Mbit/s")
    page.locator("#next-open").press("Enter")
    expect(page.get_by_role("button", name="Done: task 2", exact=True)).to_be_focused()
    assert [one.deed for one in server.records()] == [Deed.DONE, Deed.READING]


def test_a_record_that_the_server_will_not_have_is_shown_and_the_others_go_on(
    phone: BrowserContext, server: Server
) -> None:
    page = opened(phone, server)

    def refuse_the_note(route: Route) -> None:
        if b"unwanted" in (route.request.post_data_buffer or b""):
            route.fulfill(status=422, content_type="application/problem+json", body='{"detail": "no room for it"}')
        else:
            route.continue_()

    page.route(SENDING, refuse_the_note)
    note(page, 1, "unwanted")
    tick(page, 1)
    expect(page.locator("#refused li")).to_contain_text("It could not be recorded: no room for it")
    expect(said(page)).to_have_text("Everything is sent.")
    assert [one.deed for one in server.records()] == [Deed.DONE]
    page.reload()
    page.get_by_role("button", name="Throw it away").click()
    expect(page.locator("#refused")).to_be_hidden()


def test_a_correction_names_the_old_record(phone: BrowserContext, server: Server) -> None:
    page = opened(phone, server)
    note(page, 1, "two screws missing")
    task(page, 1).get_by_role("button", name="Correct two screws missing").click()
    expect(task(page, 1).locator(".correcting")).to_contain_text("two screws missing")
    note(page, 1, "one screw missing")
    expect(task(page, 1).locator(".corrected")).to_contain_text("two screws missing")
    first, second = server.records()
    assert second.corrects == first.id


def test_time_is_kept_by_the_clock_across_a_reload(phone: BrowserContext, server: Server) -> None:
    page = opened(phone, server)
    page.clock.install()
    page.goto(server.sheet)
    task(page, 1).get_by_role("button", name="Start the clock").click()
    page.clock.fast_forward("09:00")
    page.reload()
    task(page, 1).get_by_role("button", name="Stop").click()
    expect(task(page, 1).locator("[data-part=records]")).to_contain_text("spent")
    (spent,) = server.records()
    assert spent.deed is Deed.TIME
    assert 540 <= int(spent.value) < 600


def test_fingers_find_every_button(phone: BrowserContext, server: Server) -> None:
    page = opened(phone, server)
    for details in task(page, 1).locator("details").all():
        details.locator("summary").click()
    for button in task(page, 1).locator("button:visible, select:visible, input:visible, summary").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 44, button.inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
