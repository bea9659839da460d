"""`doorwright place`: what it prints and saves, and how it refuses, with the lengths of the small building."""

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from doorwright.model.network import CableRun
from doorwright.model.price import Price, PricedBy
from doorwright.model.site import Site
from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright
from tests.unit.plan.placement.small_site import SMALL, small_site, with_home, with_switch

AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def book_of(tmp_path: Path, site: Site) -> Path:
    made = tmp_path / "alder.book"
    Book.create(made, site, by="A. Tester", at=AT, message="survey").close()
    return made


def site_in(book: Path) -> Site:
    with Book.open(book, read_only=True) as opened:
        return opened.site(opened.head().number)


@pytest.fixture
def priced(tmp_path: Path) -> Path:
    prices = (
        Price(id="p1", item="small", amount=Decimal(310)),
        Price(id="p2", item="cat6", amount=Decimal("1.40"), per=PricedBy.METRE),
    )
    return book_of(tmp_path, replace(small_site(), prices=prices, currency="EUR"))


def test_switches_and_cables_are_placed_and_saved(doorwright: Doorwright, priced: Path) -> None:
    ran = doorwright("place", priced)
    assert ran.code == 0
    assert "1 new switch, 3 new cable runs: saved as revision 2" in ran.out
    assert "SW Riser A: feeds 3 units (levels G to 2 of A and B) on 3 usable ports, 60.8 W of 72 W" in ran.out
    assert "New cable cat6: 76.1 m" in ran.out
    # 310 + 76.1 m x 1.40 = 416.54
    assert "Cost: 416.54 EUR; no plan has less." in ran.out
    assert [switch.name for switch in site_in(priced).switches] == ["SW Riser A"]
    again = doorwright("place", priced)
    assert "nothing moved" in again.out
    assert "Kept: 1 switch, 3 runs to units." in again.out
    assert doorwright("place", priced, "--json").json["revision"] == 2


def test_a_dry_run_tells_the_same_and_saves_nothing(doorwright: Doorwright, priced: Path) -> None:
    told = doorwright("place", priced, "--dry-run", "--json").json
    assert (told["revision"], told["saved"], told["cost"], told["currency"]) == (1, False, "416.54", "EUR")
    assert [(run["to"], run["port"], run["length_m"]) for run in told["runs"]] == [
        ("Panel", 1, 26.0), ("URU 101", 2, 15.2), ("URU 201", 3, 34.9)
    ]  # fmt: skip
    assert told["status"] == "proven best"
    assert site_in(priced).switches == ()


def test_without_prices_counts_and_metres_are_made_small_and_that_is_said(
    doorwright: Doorwright, tmp_path: Path
) -> None:
    ran = doorwright("place", book_of(tmp_path, small_site()), "--dry-run", "--cable", "cat6a")
    assert "New switches: 1; no plan has less." in ran.out
    assert "Cable: 76.10 m; no plan has less." in ran.out
    assert "Costs are not counted, for want of prices of small (a piece), cat6a (a metre or a drum)." in ran.out


def test_a_gap_is_told(doorwright: Doorwright, tmp_path: Path) -> None:
    site = small_site()
    for number in range(12):
        site = with_home(site, f"1{number:02d}0", "ac"[number % 2], "l1", 3.0 + number)
    # 15 units want 3 switches of 7 access ports, of which 5 may be used; the simple way alone takes 4.
    larger = replace(SMALL, ports_count=9, poe_budget_w=180.0)
    site = replace(
        site,
        places=tuple(replace(one, switches_max_count=4) for one in site.places),
        profiles=tuple(larger if one == SMALL else one for one in site.profiles),
    )
    told = doorwright("place", book_of(tmp_path, site), "--dry-run", "--seconds", "0", "--json").json
    plain = doorwright("place", tmp_path / "alder.book", "--dry-run", "--seconds", "0").out
    assert next((one["what"], one["value"], one["bound"]) for one in told["aims"]) == ("new switches", "4", "3")
    assert told["gap_ratio"] == 0.25
    assert "New switches: 4; no plan has less than 3, so at most 25.00% could be saved." in plain
    best = doorwright("place", tmp_path / "alder.book", "--dry-run", "--seconds", "4").out
    assert "New switches: 3; no plan has less." in best


def test_what_is_not_known_is_refused_at_once(doorwright: Doorwright, priced: Path) -> None:
    ran = doorwright("place", priced, "--types", "small,nobody", "--cable", "2x1.5", "--distribute", "Attic", "--json")
    assert ran.code == 2
    assert [one["read"] for one in ran.json["mistakes"]] == ["nobody", "2x1.5", "Attic"]


def test_only_a_cupboard_distributes(doorwright: Doorwright, priced: Path) -> None:
    ran = doorwright("place", priced, "--distribute", "gate")
    assert ran.code == 2
    assert "places: this is no cupboard, so no switch of it can feed others: Gate" in ran.err
    assert doorwright("place", priced, "--distribute", "Riser B", "--dry-run").code == 0


def test_a_book_without_switches_asks_which_may_be_bought(doorwright: Doorwright, tmp_path: Path) -> None:
    site = small_site()
    bare = replace(site, profiles=tuple(one for one in site.profiles if one != SMALL))
    ran = doorwright("place", book_of(tmp_path, bare))
    assert ran.code == 2
    assert "--types" in ran.err
    assert "switch-16" in ran.err


def test_what_cannot_be_done_is_told_with_its_reason(doorwright: Doorwright, tmp_path: Path) -> None:
    site = small_site()
    full = replace(site, places=tuple(replace(one, switches_max_count=0) for one in site.places))
    ran = doorwright("place", book_of(tmp_path, full))
    assert ran.code == 2
    assert "There is no way to place the switches." in ran.err
    assert site_in(tmp_path / "alder.book") == full


def test_cables_move_only_where_that_is_asked_for(doorwright: Doorwright, tmp_path: Path) -> None:
    # Somebody put the panel, which draws 30 W, on a switch whose ports give 15.4 W.
    weak = replace(SMALL, key="weak", poe_port_w=15.4)
    run = CableRun(id="r", name="C001", near="sw-1", far="u-gate", near_port=1, cable="cat6", length_m=26.0)
    site = with_switch(small_site(), run)
    site = replace(
        site,
        profiles=(*site.profiles, weak),
        switches=tuple(replace(one, profile="weak") for one in site.switches),
    )
    made = book_of(tmp_path, site)
    refused = doorwright("place", made, "--types", "small")
    assert refused.code == 2
    assert "it draws 30 W, a port of SW-1 gives 15.4 W" in refused.err
    assert site_in(made) == site
    ran = doorwright("place", made, "--types", "small", "--move")
    assert ran.code == 0
    assert "Cabled anew: Panel" in ran.out
    (panel,) = [one for one in site_in(made).runs if one.far == "u-gate"]
    assert panel.near != "sw-1"
