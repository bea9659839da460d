"""The standby of a supply. Expected figures by hand, with the factors of the practices that data/standby.toml cites."""

from dataclasses import replace

import pytest

from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.power import Supply
from doorwright.model.site import Choices, Site
from doorwright.model.walk import Walk
from doorwright.studies.standby import BUSY, REST, Standby, standby
from tests.unit.studies.test_supply_network import SUPPLY, UNIT, run, site, strike

MAGNET = strike("magnet", lock=LockKind.MAGNET, fail_mode=FailMode.SAFE, lock_operate_a=0.5, lock_hold_a=0.4)
STRIKE = strike("strike", lock_operate_a=0.6)
PROFILES = (replace(SUPPLY, peukert_exponent=1.2), UNIT)
SITE = replace(
    site((MAGNET, STRIKE), (run("a", "supply", "magnet", 10.0), run("b", "supply", "strike", 10.0))), profiles=PROFILES
)


def told(book: Site = SITE, practice: str = "plain", **facts: float | None) -> Standby:
    standing: dict[str, float | None] = {
        "battery_ah": 7.0, "battery_rate_h": 20.0, "standby_h": 6.0, "standby_busy_h": 1.0,
        "battery_temperature_c": 30.0,
    }  # fmt: skip
    supply = replace(SITE.supplies[0], **(standing | facts))  # type: ignore[arg-type]
    walk = Walk(replace(book, supplies=(supply,), choices=Choices(standby_practice=practice)))
    found = standby(walk, supply).value
    assert found is not None
    return found


def test_the_plain_sum() -> None:
    found = told()
    assert [(stage.name, stage.duration_h) for stage in found.stages] == [(REST, 5.0), (BUSY, 1.0)]
    # at rest the magnet holds with 0.4 A; busy it takes 0.5 A and the strike 0.6 A
    assert found.standing_a == pytest.approx(0.4)
    assert found.busy_a == pytest.approx(1.1)
    assert found.required_ah == pytest.approx(0.4 * 5 + 1.1)  # 3.1 Ah
    assert found.spare_ratio == pytest.approx(1 - 3.1 / 7)


def test_the_battery_by_peukert() -> None:
    found = told()
    # at rest 0.4 A is above 7 Ah / 20 h = 0.35 A: 20 h × (7 / (0.4 × 20))^1.2 = 20 × 0.875^1.2 = 17.0388 h
    assert found.runtime_h == pytest.approx(20 * 0.875**1.2)
    assert found.runtime_h == pytest.approx(17.04, abs=0.01)
    # felt: 0.4 × (8/7)^0.2 = 0.41083 A for 5 h; 1.1 × (22/7)^0.2 = 1.38304 A for 1 h; 7 - 2.0541 - 1.3830 = 3.5628 Ah
    assert found.course is not None
    assert found.course.points[-1].left_ah == pytest.approx(3.563, abs=0.001)
    assert found.empty_after_h is None


def test_a_battery_that_is_empty_before_its_time() -> None:
    found = told(battery_ah=3.1)
    # the plain sum is met to the last drop, but not by a battery that gives less when emptied faster
    assert found.required_ah <= 3.1 + 1e-9
    assert found.empty_after_h is not None
    assert found.empty_after_h < 6.0


@pytest.mark.parametrize(
    ("practice", "required_ah"),
    [
        # below 24 h the greater margin of 1.1 × 1.25
        ("vde0833-2", 1.375 * 3.1),
        # the busy 1.1 A are above 7 Ah / 20 h, and so are the 0.4 A: both count 1.75 times
        ("bs5839-1", 1.25 * 1.75 * 3.1),
        ("nfpa72-2010", 1.2 * 3.1),
        ("nfpa72-2022", 1.25 * 3.1),
    ],
)
def test_the_practices(practice: str, required_ah: float) -> None:
    assert told(practice=practice).required_ah == pytest.approx(required_ah)


def test_the_busy_time_of_the_practice_counts_where_nobody_has_said() -> None:
    assert told(practice="bs5839-1", standby_busy_h=None).busy_h == 0.5
    assert told(standby_busy_h=9.0).busy_h == 6.0  # no longer than the whole


def test_what_peukert_waits_for() -> None:
    found = told(replace(SITE, profiles=(SUPPLY, UNIT)), battery_rate_h=None)
    assert (found.course, found.runtime_h) == (None, None)
    assert found.lacking == (Missing("supply", "battery rate"), Missing("profile", "Peukert exponent"))


def test_what_is_missing_is_named() -> None:
    unsaid = replace(
        SITE,
        doors=(MAGNET, replace(STRIKE, fail_mode=None)),
        profiles=(replace(SUPPLY, battery_end_v=None), UNIT),
    )
    study = standby(Walk(unsaid), unsaid.supplies[0])
    assert study.value is None
    assert study.missing == (
        Missing("profile", "output at end of standby"),
        Missing(Door.KIND, "fail mode"),
        Missing(Supply.KIND, "standby"),
        Missing(Supply.KIND, "busy standby"),
    )


def test_no_battery_no_question() -> None:
    supply = replace(SITE.supplies[0], battery_ah=None)
    study = standby(Walk(replace(SITE, supplies=(supply,))), supply)
    assert (study.value, study.missing) == (None, ())


def test_a_cold_battery_must_be_larger_and_gives_less() -> None:
    # 50 °F is 10 °C: 1.19 times (data/cold.toml); the plain sum is 3.1 Ah
    warm, cold = told(), told(battery_temperature_c=10.0)
    assert (warm.cold_ratio, cold.cold_ratio) == (1.0, 1.19)
    assert cold.required_ah == pytest.approx(1.19 * 3.1)
    # of 7 Ah it gives 7 / 1.19 = 5.8824 Ah, and felt are 2.0541 + 1.3830 Ah (above): 2.4453 Ah are left
    assert cold.course is not None
    assert cold.course.points[-1].left_ah == pytest.approx(2.445, abs=0.001)
    assert warm.runtime_h is not None
    assert cold.runtime_h == pytest.approx(warm.runtime_h / 1.19)


def test_cold_multiplies_what_a_practice_asks_for() -> None:
    assert told(practice="nfpa72-2022", battery_temperature_c=4.4).required_ah == pytest.approx(1.30 * 1.25 * 3.1)


@pytest.mark.parametrize(
    ("battery_c", "waits_for"),
    [(None, "battery temperature"), (-20.0, "factor for cold below -6.7 °C"), (-6.7, None)],
)
def test_a_temperature_that_is_not_known_or_too_cold_is_named(battery_c: float | None, waits_for: str | None) -> None:
    found = told(battery_temperature_c=battery_c)
    assert found.lacking_cold == (() if waits_for is None else (Missing("supply", waits_for),))
    assert found.cold_ratio == (1.59 if waits_for is None else 1.0)
