"""Which call a text means: by key, by number, by who is wanted, at a time, on a way."""

import pytest

from doorwright.model.calling import DAY_MIN, DivertCause
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.rehearse.chosen import NoSuchCallError, Wanted, chosen, read_wanted, text_of
from doorwright.rehearse.planned import planned
from doorwright.rehearse.script import Play, script
from tests.rehearsal.yard import YARD

WALK = Walk(YARD)
PROOF = prove(WALK)
BOXES = planned(WALK).boxes


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("VCU 1:101", Wanted("VCU 1", "101")),
        (" VCU 1 : key 1.3 ", Wanted("VCU 1", "key 1.3")),
        ("VCU 1:101, Mon 08:05", Wanted("VCU 1", "101", 8 * 60 + 5)),
        ("VCU 1:101, tue 8:05, No answer", Wanted("VCU 1", "101", DAY_MIN + 8 * 60 + 5, (DivertCause.NO_ANSWER,))),
        ("A, B:c, busy, not registered", Wanted("A, B", "c", None, (DivertCause.BUSY, DivertCause.NOT_REGISTERED))),
        ("X:Y:1", Wanted("X:Y", "1")),
    ],
)
def test_a_text_is_read(text: str, wanted: Wanted) -> None:
    assert read_wanted(text) == wanted


@pytest.mark.parametrize("text", ["", "VCU 1", ":101", "VCU 1:", "VCU 1:1, Mon 24:00", "VCU 1:1, Moon 08:00",
                                  "VCU 1:1, Mon 08:60", "VCU 1:1, Mon 08:00, Tue 09:00"])  # fmt: skip
def test_a_text_of_another_form_is_told(text: str) -> None:
    with pytest.raises(NoSuchCallError):
        read_wanted(text)


def play_of(text: str) -> Play:
    wanted = read_wanted(text)
    unit = next(unit for unit in WALK.all(Unit) if unit.name == wanted.unit)
    return chosen(WALK, PROOF, BOXES, unit, wanted)


def test_every_call_of_the_script_is_meant_by_its_text() -> None:
    plays = [one for one in script(WALK, PROOF, BOXES) if isinstance(one, Play)]
    assert len(plays) > 20
    assert [play_of(text_of(WALK, play)) for play in plays] == plays


def test_any_minute_may_be_named() -> None:
    """In its hours (weekdays, 8 to 18) the desk takes the calls from the gate; at 17:59 still, at 18:00 not."""
    inside, outside = play_of("Gate unit:01, Wed 17:59"), play_of("Gate unit:01, Wed 18:00")
    assert (inside.minute, outside.minute) == (2 * DAY_MIN + 17 * 60 + 59, 2 * DAY_MIN + 18 * 60)
    assert (inside.expected.took, outside.expected.took) == ("smu", "uru-1")


@pytest.mark.parametrize("press", ["key 0.1", "0.1", "01", "KEY 0.1"])
def test_a_key_may_be_named_by_whom_it_calls(press: str) -> None:
    assert (play_of(f"Porch unit:{press}").key, play_of(f"Porch unit:{press}").called) == ("key 0.1", "home-1")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Porch unit:77", "no call with '77' is played at Porch unit: there are key 0.1 (01), key 0.2 (02)"),
        ("Porch unit:number 01", "no call with 'number 01' is played"),  # it has keys only
        ("Porch unit:01, busy", "this call is not played so; there is: taken at once; no answer"),
        ("Receiver 1:01", "Receiver 1 stands at no entrance"),
    ],
)
def test_a_call_that_is_not_played_is_told(text: str, says: str) -> None:
    with pytest.raises(NoSuchCallError, match="^" + says.replace("(", r"\(").replace(")", r"\)")):
        play_of(text)
