"""What a step does to a unit: the lines it passes, in both directions."""

import pytest

from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.firmware.jobs import Timing, timing_of
from doorwright.plan.firmware.steps import Step, steps_to, way_back
from tests.unit.plan.block import block, put
from tests.unit.plan.firmware.stepping import line, stepping

LINES = (
    line("1", 1),
    line("2", 2, keeps=False, step_s=300.0, tool_note="program 2"),
    line("2.1", 2, step_s=120.0, needs_restart=False),
    line("3", 2, step_s=60.0),
)


def site(now: str = "1") -> Site:
    return stepping(block({"A": {1: ["1", "2"]}}), *LINES, now=now, restart_s=90.0, settle_s=180.0)


def step(now: str, there: str) -> Step:
    (only,) = steps_to(Walk(site(now)), {"vcu-directory": there}).steps
    return only


@pytest.mark.parametrize(
    ("now", "there", "passed", "clears", "crosses"),
    [
        # the trade's rule: a step clears if any line passed on the way clears; the generation is that of the target
        ("1", "3", ["2", "2.1", "3"], True, True),
        ("1", "2", ["2"], True, True),
        ("2", "3", ["2.1", "3"], False, False),
        ("2.1", "3", ["3"], False, False),
        # back: the lines that are left
        ("3", "2", ["3", "2.1"], False, False),
        ("3", "1", ["3", "2.1", "2"], True, True),
        ("2", "1", ["2"], True, True),
    ],
)
def test_lines_in_between_count(now: str, there: str, passed: list[str], clears: bool, crosses: bool) -> None:
    made = step(now, there)
    assert [one.version for one in made.lines] == passed
    assert (made.clears, made.crosses) == (clears, crosses)


def test_each_line_passed_is_loaded_with_its_restart() -> None:
    # 300 + 90 restart, 120 without, 60 + 90 restart: by hand 660 s
    assert step("1", "3").load_s == 660.0
    assert step("1", "3").tool_notes == ("program 2",)


def test_units_are_told_apart() -> None:
    mixed = put(put(put(site(), "uru A/1", firmware=None), "uru A/2", firmware="9"), "vcu A", firmware="3")
    found = steps_to(Walk(mixed), {"uru-video": "3", "vcu-directory": "3"})
    assert [(one.unit.id, one.why) for one in found.untold] == [
        ("uru A/1", "its present firmware is not in the book"),
        ("uru A/2", "its firmware 9 is no line of the profile uru-video"),
    ]
    assert [unit.id for unit in found.already] == ["vcu A"]
    assert found.steps == ()


def test_a_version_that_is_no_line_is_no_target() -> None:
    with pytest.raises(LookupError):
        steps_to(Walk(site()), {"uru-video": "4"})


def test_downgrades_are_known_as_such() -> None:
    assert [one.unit.id for one in steps_to(Walk(site("3")), {"vcu-directory": "2"}).downgrades] == ["vcu A"]
    assert steps_to(Walk(site("2")), {"vcu-directory": "3"}).downgrades == ()


def test_the_way_back_is_the_step_the_other_way() -> None:
    there = step("1", "2.1")
    back = way_back(Walk(site("1")), there)
    assert back is not None
    assert (back.version_from, back.version_to, back.back, back.clears) == ("2.1", "1", True, True)
    assert back.clearing_versions == ("2",)


def test_a_cleared_registrar_is_down_longer_for_each_unit_that_registers_with_it() -> None:
    walk = Walk(site())
    (vcu,) = steps_to(walk, {"vcu-directory": "2"}).steps
    # by hand: 1 min to start; 300 + 90 s load; 2 min for its own end and 2 for each of two receivers; 3 min to settle
    timing = timing_of(walk, (vcu,))
    assert timing == Timing(start_min=1, load_min=7, entry_min=6, settle_min=3)
    assert (timing.down_min, timing.work_min) == (17, 7)
    # slots of five minutes: minute 0 is work, minutes 8 to 13 are
    assert timing.slots(5) == 4
    assert timing.usage(5) == (1, 2, 4, 0)


def test_a_receiver_whose_registrar_keeps_its_settings_has_one_end_to_enter() -> None:
    walk = Walk(site())
    receiver = steps_to(walk, {"uru-video": "2"}).steps[0]
    assert timing_of(walk, (receiver,)).entry_min == 2
    keeps = steps_to(Walk(site("2")), {"uru-video": "3"}).steps[0]
    assert timing_of(Walk(site("2")), (keeps,)).entry_min == 0
