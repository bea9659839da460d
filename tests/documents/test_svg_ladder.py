"""Ladders on paper: what stands in the right order, under the right head, told apart without colour."""

from dataclasses import replace

import pytest

from doorwright.app.conditions import Conditions
from doorwright.app.draw_call import DrawnCall, ladders_of
from doorwright.model.walk import Walk
from doorwright.rehearse.ladder import Ladder, Participant, Sent, Sort
from doorwright.render.svg.ladder import COLUMNS_MOST, Caption, ladder_sheets
from doorwright.render.svg.sheet import Drawing
from tests.documents import svg_reading as reading
from tests.documents.ladder_of_units import ladder_of_units
from tests.documents.svg_large_sites import SITES
from tests.rehearsal.yard import YARD

STAMP = {"revision": "R7", "on": "2031-03-14"}
CAPTION = Caption("A call", "somebody rings", "nobody rang", as_proved=False, conditions="seed 1")


def drawn(text: str, **wanted: float) -> DrawnCall:
    (one,) = ladders_of(Walk(YARD), [text], Conditions(**wanted), revision="R7", on="2031-03-14")  # type: ignore[arg-type]
    return one


def test_a_ladder_is_of_the_building_whose_mains_failed_where_that_was_rehearsed() -> None:
    (plain,), (cut,) = (drawn("Porch unit:01", **wanted).drawings[:1] for wanted in ({}, {"power_cut_min": 10.0}))
    assert "power cut 10 min" in cut.svg
    assert "power cut" not in plain.svg


def words(drawings: tuple[Drawing, ...]) -> list[str]:
    """Return all that stands between the caption and the foot, from above to below."""
    letters = [(number, one.box.y_mm, one.text) for number, d in enumerate(drawings) for one in reading.letterings(d)]
    return [text for _, _, text in sorted(letters)]


@pytest.mark.parametrize("loss_ratio", [0.0, 0.2])
@pytest.mark.parametrize("text", ["Porch unit:01", "Porch unit:02", "Porch unit:01, no answer", "Gate unit:01"])
def test_nothing_lies_on_anything_else(text: str, loss_ratio: float) -> None:
    for drawing in drawn(text, loss_ratio=loss_ratio, seed=5).drawings:
        assert reading.misplaced(drawing) == []
        assert [line for line in reading.legend(drawing) if "…" in line] == []


def test_a_call_reads_from_above_to_below() -> None:
    """The order of RFC 3665 §3.1, with the second call unit's call going through the first."""
    said = words(drawn("Porch unit:01, Mon 07:00").drawings)
    wanted = [
        "visitor calls 01", "INVITE 01", "rang", "180 Ringing (INVITE)", "took the call", "200 OK (INVITE)",
        "heard the other end", "digit 1 freed Porch door", "digit 2 freed Store", "BYE vcu-1", "call over",
    ]  # fmt: skip
    places = [said.index(one) for one in wanted]
    assert places == sorted(places)
    assert said.count("INVITE 01") == 2
    assert "key 1 (4 packets in the speech)" in said


def test_heads_stand_in_the_order_of_the_call() -> None:
    (drawing,) = drawn("Porch unit:01, Mon 07:00").drawings
    heads = {one.text: one.box.x_mm for one in reading.letterings(drawing)}
    assert heads["Porch unit"] < heads["Gate unit"] < heads["Receiver 1"]
    assert reading.parts((drawing,)) == {"vcu-porch": 1, "vcu-gate": 1, "uru-1": 1}


def test_the_caption_tells_what_differs() -> None:
    said = words(drawn("Porch unit:01, Mon 07:00", loss_ratio=0.5, seed=2).drawings)
    assert any(line.endswith("(OTHERWISE THAN PROVED)") for line in said)
    assert "seed 2, delay 1 ms, 50 % of packets lost" in said


def sent(**values: object) -> Sent:
    fields = {
        "at_s": 0.0, "until_s": 0.0, "sender": 0, "taker": 1, "sort": Sort.REQUEST, "words": "INVITE", "packets": (0,),
    }  # fmt: skip
    return Sent(**{**fields, **values})  # type: ignore[arg-type]


PAIR = (Participant("a", "A", "192.0.2.1"), Participant("b", "B", "192.0.2.2"))


def shapes_of(step: Sent) -> str:
    (drawing,) = ladder_sheets(Ladder(PAIR, (step,)), Walk(YARD), CAPTION, **STAMP)
    root = reading.root_of(drawing)
    group = next(g for g in root.iter("{http://www.w3.org/2000/svg}g") if "A to B" in "".join(g.itertext()))
    drawn = [e for e in group if e.tag.endswith(("rect", "polyline", "polygon", "circle"))]
    looks = ("stroke-width", "stroke-dasharray", "fill")
    return "\n".join(f"{e.tag} {[e.get(look) for look in looks]}" for e in drawn)


def test_each_sort_has_a_shape_of_its_own() -> None:
    steps = [sent(sort=sort) for sort in (Sort.REQUEST, Sort.RESPONSE, Sort.SPEECH, Sort.PICTURE, Sort.KEY)]
    steps += [replace(one, lost_count=1) for one in steps]
    steps.append(sent(again=True))
    assert len({shapes_of(step) for step in steps}) == len(steps)


def test_a_break_says_how_long() -> None:
    """1.4 s - 0.25 s = 1.15 s, written with one figure after the point: 1.1 or 1.2; 0.25 s is no break."""
    steps = tuple(sent(at_s=at_s) for at_s in (0.0, 0.25, 1.5, 62.5))
    said = words(ladder_sheets(Ladder(PAIR, steps), Walk(YARD), CAPTION, **STAMP))
    assert [line for line in said if "later" in line] == ["1.2 s later", "61.0 s later"]


def test_a_long_call_goes_on_with_its_heads() -> None:
    steps = tuple(sent(at_s=number / 10, words=f"step {number}") for number in range(200))
    drawings = ladder_sheets(Ladder(PAIR, steps), Walk(YARD), CAPTION, **STAMP)
    assert len(drawings) > 3
    assert all({"A", "B", "A call"} <= set(words((drawing,))) for drawing in drawings)
    assert [line for line in words(drawings) if line.startswith("step ")] == [f"step {n}" for n in range(200)]


@pytest.mark.parametrize("count", [2, COLUMNS_MOST, COLUMNS_MOST + 1, 60])
def test_any_number_may_take_part(count: int) -> None:
    walk = Walk(SITES["500 dwellings in one core"]())
    ladder = ladder_of_units(walk, count)
    drawings = ladder_sheets(ladder, walk, CAPTION, **STAMP)
    for drawing in drawings:
        assert reading.misplaced(drawing) == []
    said = words(drawings)
    assert ("others" in said) is (count > COLUMNS_MOST)  # in two lines, for the heads are narrow
    assert (str(count - COLUMNS_MOST + 1) in said) is (count > COLUMNS_MOST)


def test_a_call_that_never_left_is_drawn_too() -> None:
    (drawing,) = ladder_sheets(Ladder((), ()), Walk(YARD), CAPTION, **STAMP)
    assert reading.misplaced(drawing) == []
