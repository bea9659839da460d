"""The benchmarks of SIP: the search for a clean rate, and what is put under load. Nothing is timed here."""

import pytest

from bench.sip_core import register, registrations_per_s
from bench.sip_load import HALVINGS_COUNT, Trial, clean_rate
from doorwright.sip.message import parse
from doorwright.sip.validate import validate


def trial(rate: int, *, failed: int = 0, again: int = 0, took_s: float = 3.0) -> Trial:
    return Trial(rate=rate, calls_count=3 * rate, failed_count=failed, again_count=again, took_s=took_s)


@pytest.mark.parametrize(
    ("tried", "is_clean"),
    [
        (trial(1000), True),
        (trial(1000, failed=1), False),
        (trial(1000, again=3), True),  # 1 in 1000 of 3000 calls
        (trial(1000, again=4), False),
        (trial(1000, took_s=3.09), True),  # 3000 calls in 3.09 s are 97.1 % of 1000 a second
        (trial(1000, took_s=3.10), False),  # 96.8 %
    ],
)
def test_a_clean_trial(tried: Trial, is_clean: bool) -> None:
    assert tried.is_clean is is_clean


def test_the_search_ends_below_the_first_rate_that_is_not_clean() -> None:
    asked: list[int] = []

    def up_to_3000(rate: int) -> Trial:
        asked.append(rate)
        return trial(rate, failed=int(rate > 3000))

    found = clean_rate(up_to_3000)
    assert found is not None
    # doubled: 500, 1000, 2000, 4000 (twice, for once may be chance); then the geometric middles of 2000 and 4000,
    # of 2828 and 4000 (3363, twice), and of 2828 and 3363 (3084, twice)
    assert asked == [500, 1000, 2000, 4000, 4000, 2828, 3363, 3363, 3084, 3084]
    assert found.rate == 2828
    assert 3000 / found.rate < 2 ** (1 / 2**HALVINGS_COUNT)  # within 9 %


def test_one_trial_that_fails_by_chance_is_tried_again() -> None:
    failures = iter([1, 0])
    found = clean_rate(lambda rate: trial(rate, failed=next(failures, 1)))
    assert found is not None
    assert found.rate == 500


def test_where_nothing_is_clean_there_is_no_rate() -> None:
    assert clean_rate(lambda rate: trial(rate, failed=1)) is None


def test_what_is_read_has_no_faults_and_every_registration_is_taken() -> None:
    assert validate(parse(register("1000", 1, 1))) == ()
    assert registrations_per_s(20) > 0
