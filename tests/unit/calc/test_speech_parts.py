"""The parts of the E-model by hand, at the edges where the default connection tells nothing of them."""

import pytest

from doorwright.calc.speech import Connection, equipment_impairment_points, speech_rating


def simultaneous_points(*, delay_ms: float, sidetone_db: float, talker_echo_db: float) -> float:
    connection = Connection(sidetone_db=sidetone_db, talker_echo_db=talker_echo_db)
    return speech_rating(delay_ms=delay_ms, connection=connection).simultaneous_points


@pytest.mark.parametrize(("delay_ms", "more_points"), [(0.0, 3.893), (4.0, 1.201)])
def test_an_early_echo_adds_to_the_sidetone(delay_ms: float, more_points: float) -> None:
    """ITU-T G.107, equations 7-11 and 7-12 (from memory), by hand, for a sidetone and a talker echo of 8 dB.

    The two add up as powers: 8 - 10·log(1 + 1) = 4.990 dB at no delay, 8 - 10·log(1 + 1/e) = 6.640 dB after 4 ms. Far
    from its other two terms Ist is 12·(1 + ((STMRo - 13)/6)⁸)^(1/8) - 12: 4.211 and 1.519 points, against 0.318 where
    8 dB of sidetone stand alone. Nothing else in the simultaneous impairment knows of the echo.
    """
    echoed = simultaneous_points(delay_ms=delay_ms, sidetone_db=8.0, talker_echo_db=8.0)
    alone = simultaneous_points(delay_ms=delay_ms, sidetone_db=8.0, talker_echo_db=65.0)
    assert echoed - alone == pytest.approx(more_points, abs=0.001)


def test_faint_sidetone_adds_to_the_talker_echo_above_20_db_alone() -> None:
    """ITU-T G.107, equation 7-23 (from memory): above 20 dB the squares of Idte and Ist add up, at 20 dB not yet.

    By hand Ist at 20 dB is 14.455 - 30.362 - 13.000 + 29 = 0.093, its square 0.0086.
    """
    usual, faint = (
        speech_rating(delay_ms=150.0, connection=Connection(sidetone_db=each)).talker_echo_points
        for each in (20.0, 20.001)
    )
    assert faint**2 - usual**2 == pytest.approx(0.0086, abs=0.0002)


def test_loud_sidetone_corrects_the_talker_echo_below_9_db_alone() -> None:
    """ITU-T G.107, equation 7-22 (from memory): below 9 dB half of Ist is added to the echo's loss, at 9 dB not yet."""
    below, at, above = (
        speech_rating(delay_ms=150.0, connection=Connection(sidetone_db=each)).talker_echo_points
        for each in (8.999, 9.0, 9.001)
    )
    assert at - below > 20.0 * abs(above - at)


def test_a_codec_with_an_impairment_of_its_own_loses_what_is_left_to_95() -> None:
    """As many packets lost as the robustness factor: half of what is left, 11 + (95 - 11)/2 = 53 (hand)."""
    found = equipment_impairment_points(impairment_points=11.0, robustness_percent=19.0, loss_percent=19.0)
    assert found == pytest.approx(53.0)
