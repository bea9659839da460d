"""What the legend paper says of legends that do not fit, and heights on the cards; nothing is shortened unasked."""

from typing import Any

from doorwright.model.change import Add
from doorwright.model.walk import Walk
from doorwright.plan.keys import plan_keys
from doorwright.render.pdf.papers.cards import cards
from doorwright.render.pdf.papers.legends import fits_strip, legends
from tests.unit.plan.block import block, new_ids, put


def test_two_lines_of_readable_letters_fit_a_strip_of_sixty_by_fourteen() -> None:
    # capitals of 2.5 mm are 3.5 mm of type (0.714 em), 4.8 mm a line (1.36 em): 12 mm take two lines of 56 mm;
    # a lower-case letter is about 0.61 em or 2.1 mm, so 26 letters fill a line and 40 in one word are too many
    assert fits_strip("Flat 12", 60, 14)
    assert fits_strip(f"{'a' * 20} {'b' * 20}", 60, 14)
    assert not fits_strip(f"{'a' * 20} {'b' * 20} {'c' * 20}", 60, 14)
    assert not fits_strip("a" * 40, 60, 14)


def test_a_shorter_legend_is_offered_and_the_strip_keeps_the_users_words() -> None:
    legend = "The Consultancy for Applied Examples and Further Inventions (second stair)"
    site = put(block({"A": {1: ["1", "2"]}}, vcu="vcu-direct"), "A/1", legend=legend)
    walk = Walk(site)
    walk = walk.after(plan_keys(walk, new_ids()).changes)
    paper = legends(walk)
    assert paper is not None
    (panel,) = paper["panels"]
    (offered,) = panel["too_long"]
    assert offered["legend"] == legend
    assert fits_strip(offered["shorter"], 60, 14)
    assert any(legend in strip["keys"] for strip in panel["strips"])
    assert not any(isinstance(change, Add) for change in plan_keys(walk, new_ids()).changes)


def test_cards_of_visitor_call_units_alone_tell_heights() -> None:
    paper: Any = cards(Walk(put(block({"A": {1: ["1"]}}), "vcu A", height_mm=1000)))
    told = {card["name"]: card["heights"] for group in paper["groups"] for card in group["cards"]}
    assert "Highest control planned at 1000 mm" in told["vcu A"]
    assert "ADA 380–1220 mm" in told["vcu A"]
    assert told["uru A/1"] == ""
