"""Fuses and contacts at and beyond their limits."""

import pytest

from doorwright.calc.protection import CoilCaution, ContactDuty, coil_caution, contact_duty, fuse_duty


@pytest.mark.parametrize(
    ("standing_a", "peak_a", "carries", "rides"),
    # of a fuse of 1 A: carried for good up to 1 A, for an hour up to 1.5 A (IEC 60127, as quoted)
    [
        (1.0, 1.5, True, True), (1.0, 1.2, True, True), (1.01, 1.5, False, True), (0.5, 1.51, True, None),
        (0.5, 5.0, True, None),
    ],
)  # fmt: skip
def test_a_fuse_carries_its_rating_and_no_one_promises_more(
    standing_a: float, peak_a: float, *, carries: bool, rides: bool | None
) -> None:
    duty = fuse_duty(standing_a=standing_a, peak_a=peak_a, fuse_a=1.0)
    assert duty.carries is carries
    assert duty.rides_peak is rides


@pytest.mark.parametrize(
    ("open_v", "carried_a", "closing_a", "within"),
    [(30.0, 2.0, 5.0, True), (31.0, 2.0, 5.0, False), (30.0, 2.1, 5.0, False), (30.0, 2.0, 5.1, False)],
)
def test_a_contact_is_within_when_every_figure_is(
    open_v: float, carried_a: float, closing_a: float, *, within: bool
) -> None:
    duty = contact_duty(
        open_v=open_v, carried_a=carried_a, closing_a=closing_a, rated_v=30.0, rated_a=2.0, rated_closing_a=5.0
    )
    assert duty.within is within


def test_a_bare_coil_is_told_apart_from_one_nobody_looked_at() -> None:
    assert coil_caution(suppressed=False) is CoilCaution.BARE
    assert coil_caution(suppressed=True) is CoilCaution.FITTED
    assert coil_caution(suppressed=None) is CoilCaution.UNKNOWN


def test_a_contact_may_be_loaded_up_to_its_rating_and_no_further() -> None:
    def duty(carried_a: float) -> ContactDuty:
        return contact_duty(
            open_v=12.0, carried_a=carried_a, closing_a=1.0, rated_v=30.0, rated_a=1.0, rated_closing_a=3.0
        )

    assert duty(1.0).within
    assert duty(0.5).within
    assert not duty(1.01).within
