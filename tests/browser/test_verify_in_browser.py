"""The real building asked in a real browser, on loopback addresses: rows come as parts answer, and a reload ends it."""

import re
import threading
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from doorwright.model.network import Subnet
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.sip.message import Request
from doorwright.store.book import Book
from tests.browser import axe
from tests.interop.switch_agent import AUTH, PRIVACY, USER, running_agent, write_book
from tests.unit.probe.loopback import Building, need_many_addresses, shared_ports, sip_answer

PATIENCE_S = 30
(SIP,) = shared_ports(1)
VERIFY = "/books/alder/verify"


@pytest.fixture
def alder(shelf: Path) -> None:
    """A small book on the shelf: a call unit, and three receivers that are asked at loopback addresses."""
    units = tuple(
        Unit(id=f"u{last}", name=name, kind=kind, profile="p", address=f"127.0.0.{last}")
        for name, kind, last in (
            ("VCU 1", UnitKind.VCU, 2),
            ("URU 1", UnitKind.URU, 3),
            ("URU 2", UnitKind.URU, 4),
            ("URU 3", UnitKind.URU, 5),
        )
    )
    site = Site(name="Alder Court", units=units, subnets=(Subnet(id="n", name="Units", cidr="127.0.0.0/24"),))
    made = datetime(2026, 1, 1, tzinfo=UTC)
    Book.create(shelf / "alder.book", site, by="Ada", at=made, message="made").close()


@pytest.fixture
def go_on() -> threading.Event:
    """Set when the last receiver may answer."""
    return threading.Event()


@pytest.fixture
def building(go_on: threading.Event) -> Iterator[Building]:
    """URU 2 is overloaded; the last one answers only when it may."""
    need_many_addresses()

    def waits(count: int, request: Request) -> Sequence[bytes]:
        go_on.wait(PATIENCE_S)
        return sip_answer(200)(count, request)

    with Building() as there, Building() as slow:
        there.udp("127.0.0.2", SIP, sip_answer(200))
        there.udp("127.0.0.3", SIP, sip_answer(200))
        there.udp("127.0.0.4", SIP, sip_answer(503))
        slow.udp("127.0.0.5", SIP, waits)
        yield there
        go_on.set()


def begin(page: Page, address: str) -> None:
    page.goto(f"{address}{VERIFY}")
    if page.locator("#permitted").count():
        page.locator("#permitted").check()
    page.get_by_text("How gently, and at which ports").click()
    page.get_by_label("Seconds to wait for an answer").fill("20")
    for port in ("HTTP", "HTTPS", "RTSP"):
        page.get_by_label(port, exact=True).fill("0")
    page.locator("#sip_port").fill(str(SIP))
    page.get_by_role("button", name="Ask the building").click()


def test_rows_come_as_parts_answer_and_then_what_differs(
    page: Page, address: str, alder: None, building: Building, go_on: threading.Event
) -> None:
    page.goto(f"{address}{VERIFY}")
    assert axe.faults(page) == []
    begin(page, address)
    rows = page.locator("#heard tr")
    expect(rows).to_have_count(3)
    expect(page.locator("#how-far")).to_have_text("asked 3 of 4")
    assert axe.faults(page) == []
    go_on.set()
    expect(page.get_by_role("heading", name="Asked 4")).to_be_visible()
    expect(rows).to_have_count(4)
    expect(page.get_by_text("4 answered, 0 silent")).to_be_visible()
    differing = page.get_by_role("region", name="Not as planned")
    expect(differing).to_contain_text("URU 2")
    expect(differing).to_contain_text("503")
    assert axe.faults(page) == []
    assert axe.contrast_faults(page) == []
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_it_is_stopped_and_goes_on_with_the_others(
    page: Page, address: str, alder: None, building: Building, go_on: threading.Event
) -> None:
    begin(page, address)
    expect(page.locator("#heard tr")).to_have_count(3)
    page.get_by_role("button", name="Stop asking").click()
    expect(page.get_by_text("Stopped: what was heard is in the book")).to_be_visible()
    go_on.set()
    begin(page, address)
    expect(page.get_by_text("Left in peace, asked a short while ago: 3 parts")).to_be_visible()
    expect(page.locator("#heard tr")).to_have_count(1)


def test_names_are_added_to_those_who_are_asked(page: Page, address: str, alder: None) -> None:
    page.goto(f"{address}{VERIFY}")
    page.get_by_label("A name to add").fill("URU 1")
    page.get_by_role("button", name="Add", exact=True).click()
    page.get_by_label("A name to add").fill("VCU 1")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Ask only these")).to_have_value("URU 1\nVCU 1")


def test_switches_are_asked_and_their_ports_shown(page: Page, address: str, shelf: Path, tmp_path: Path) -> None:
    """The invented switch is told by Debian's snmpd, as in tests/interop."""
    write_book(shelf / "alder.book")
    with running_agent(tmp_path) as agent:
        page.goto(f"{address}{VERIFY}")
        page.locator("#permitted").check()
        page.get_by_text("The switches as well, over SNMP").click()
        expect(page.get_by_label("Community", exact=True)).to_be_hidden()
        page.get_by_label("SNMP version").select_option("2c")
        expect(page.get_by_label("User", exact=True)).to_be_hidden()
        expect(page.get_by_label("Community", exact=True)).to_have_attribute("type", "password")
        page.get_by_label("Take each switch’s device secret from the vault instead").check()
        expect(page.get_by_label("Community", exact=True)).to_be_hidden()
        page.get_by_label("Take each switch’s device secret from the vault instead").uncheck()
        page.get_by_label("SNMP version").select_option("3")
        page.get_by_label("User", exact=True).fill(USER)
        page.get_by_label("Authentication secret").fill(AUTH)
        page.get_by_label("Privacy secret").fill(PRIVACY)
        page.get_by_label("SNMP port").fill(str(agent.port))
        page.get_by_text("Whoever is elsewhere, by discovery").click()
        page.get_by_text("How gently, and at which ports").click()
        page.get_by_label("Seconds to wait for an answer").fill("0.5")
        for port in ("HTTP", "HTTPS", "RTSP", "SIP", "WS-Discovery"):
            page.get_by_role("group", name="Ports").get_by_label(port, exact=True).fill("0")
        assert axe.faults(page) == []
        page.get_by_role("button", name="Ask the building").click()
        expect(page.get_by_role("heading", name=re.compile("What the switches say"))).to_contain_text("1 of 2 told")
    ports = page.get_by_role("region", name="Ports of S1").locator("tbody tr")
    expect(ports).to_have_count(8)
    expect(ports.nth(1)).to_contain_text("123 of 100003")
    assert AUTH not in page.content()
    assert axe.faults(page) == []
    assert axe.contrast_faults(page) == []
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_building_on_this_machine_is_asked_without_permission(page: Page, address: str, alder: None) -> None:
    need_many_addresses()
    page.goto(f"{address}{VERIFY}")
    form = page.locator("form.ask").first
    form.get_by_label("The building rehearsed on this machine").check()
    for gone in ("#permitted", ".switches", "#asks_per_s"):
        expect(form.locator(gone)).to_be_hidden()
    form.get_by_text("How gently, and at which ports").click()
    for port in ("HTTP", "RTSP"):
        form.get_by_label(f"{port} on this machine").fill("0")
    form.get_by_label("SIP on this machine").fill(str(SIP))
    form.get_by_label("Seconds to wait for an answer").fill("0.5")
    assert axe.faults(page) == []
    form.get_by_role("button", name="Ask the building").click()
    expect(page.get_by_text("Is the rehearsed building up?")).to_be_visible(timeout=PATIENCE_S * 1000)
    page.locator("form.ask").first.get_by_label("The real building").check()
    page.get_by_role("button", name="Ask the building").click()
    assert page.locator("#permitted").evaluate("box => box.validity.valueMissing")
