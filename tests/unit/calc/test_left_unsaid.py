"""What a calculation takes for granted where nothing is said, each against a figure of its own."""

import pytest

from doorwright.calc import conductor, cords, poe, speech, standby, streams


def test_cable_is_at_20_degrees() -> None:
    # 10 Ω/km there and back over 50 m (hand); both ways of a pair side by side halve it
    assert conductor.two_wire_loop_ohm(conductor_ohm_per_km=10.0, length_m=50.0) == pytest.approx(1.0)
    assert poe.powered_pairs_ohm(conductor_ohm_per_km=10.0, length_m=50.0, pairs_count=2) == pytest.approx(0.5)


def test_a_gauge_is_a_solid_wire() -> None:
    # ASTM B258: 36 AWG is 0.127 mm by definition, 0.012668 mm², 17.241/0.012668 = 1361 Ω/km (hand); strands 2 % more
    assert conductor.gauge_ohm_per_km(gauge_awg=36) == pytest.approx(1361.0, abs=0.5)
    assert conductor.gauge_ohm_per_km(gauge_awg=36, stranded=True) == pytest.approx(1388.2, abs=0.5)


def test_cords_are_those_of_the_standard() -> None:
    # TIA-568: (102 - 90)/1.2 = 10 m of cords, 5 of them in the cupboard; 70 m leave 26.7 m and 21.7 at the far end
    assert cords.cords_m(horizontal_m=90.0, rise_ratio=0.2) == pytest.approx(10.0)
    assert cords.far_cord_m(horizontal_m=90.0, rise_ratio=0.2) == pytest.approx(5.0)
    assert cords.far_cord_m(horizontal_m=70.0, rise_ratio=0.2) == pytest.approx(21.667, abs=0.001)
    assert cords.far_cord_m(horizontal_m=60.0, rise_ratio=0.2) == 22.0
    # nothing is left of 102 m, nor behind longer cords in the cupboard
    assert cords.cords_m(horizontal_m=102.5, rise_ratio=0.2) == 0.0
    assert cords.far_cord_m(horizontal_m=90.0, rise_ratio=0.2, near_cords_m=10.5) == 0.0


def test_a_stage_is_slow_and_a_practice_without_margin_asks_for_the_charge() -> None:
    assert standby.stage_ah(current_a=2.0, duration_h=3.0) == pytest.approx(6.0)
    assert standby.margin_capacity_ah(charge_ah=6.0, margin_ratio=1.25) == pytest.approx(7.5)
    plain = standby.two_stage_capacity_ah(standby_a=0.5, standby_h=4.0, busy_a=2.0, busy_h=0.5)
    assert plain == pytest.approx(3.0)


def test_frames_carry_a_tag() -> None:
    # 160 bytes of speech with 12 + 8 + 20 + 18 + 4 of headers, 50 times a second: 222 × 8 × 50 = 88.8 kb/s (hand)
    assert streams.speech_stream(payload_kbps=64.0, packet_ms=20.0).frame_kbps == pytest.approx(88.8)
    # 1400 bytes of picture with 62 of headers: 1000 × 1462/1400 (hand)
    assert streams.picture_stream(payload_kbps=1000.0).frame_kbps == pytest.approx(1044.29, abs=0.01)


def test_a_codec_of_which_nothing_is_said_is_g711_without_concealment() -> None:
    # ITU-T G.113 (second-hand): Bpl 4.3; 4.3 % lost at random are 95/2 points, none where none is lost (hand)
    assert speech.speech_rating(loss_percent=4.3).equipment_points == pytest.approx(47.5)
    assert speech.speech_rating().equipment_points == 0.0
    # in bursts twice as long: 95·4.3/(4.3/2 + 4.3) = 63.333 (hand)
    assert speech.speech_rating(loss_percent=4.3, burst_ratio=2.0).equipment_points == pytest.approx(63.333, abs=0.001)
    assert speech.speech_rating(advantage_points=5.0).rating_points - speech.speech_rating().rating_points == (
        pytest.approx(5.0)
    )


def test_a_connection_of_which_nothing_is_said_is_that_of_the_recommendation() -> None:
    """ITU-T G.107, Table 2 (from memory), in its order: the defaults for which R is 93.2."""
    assert speech.Connection() == speech.Connection(
        sending_db=8.0, receiving_db=2.0, sidetone_db=15.0, sending_d_db=3.0, receiving_d_db=3.0, talker_echo_db=65.0,
        echo_path_db=110.0, distortion_units_count=1.0, circuit_noise_dbm=-70.0, receiver_noise_dbm=-64.0,
        sender_room_dba=35.0, receiver_room_dba=35.0,
    )  # fmt: skip


def test_delay_hurts_from_a_tenth_of_a_second_on() -> None:
    """ITU-T G.107, equation 7-27: nothing up to 100 ms; at 200 ms X is 1: 25·(2^(1/6) - 3·(1 + 3⁻⁶)^(1/6) + 2) (hand).

    That is 25·(1.122462 - 3.000686 + 2) = 3.044 points.
    """
    assert speech.delay_impairment_points(delay_ms=100.0) == 0.0
    assert speech.delay_impairment_points(delay_ms=200.0) == pytest.approx(3.044, abs=0.001)


@pytest.mark.parametrize(
    ("rating_points", "score_points"),
    [(-5.0, 1.0), (0.0, 1.0), (3.0, 1.0), (100.0, 4.5), (101.0, 4.5), (60.0, 3.1), (80.0, 4.024)],
)
def test_scores_by_hand(rating_points: float, score_points: float) -> None:
    """ITU-T G.107, Annex B: 1 + 0.035·60 = 3.1; 1 + 2.8 + 80·20·20·7e-6 = 4.024; held between 1 and 4.5."""
    assert speech.opinion_points(rating_points=rating_points) == pytest.approx(score_points)


def test_the_short_form_bends_at_177_milliseconds() -> None:
    # 93.2 - 0.024·177.3 = 88.945; 22.7 ms beyond it 93.2 - 4.8 - 0.11·22.7 = 85.903 (hand)
    assert speech.short_rating_points(delay_ms=177.3) == pytest.approx(88.945, abs=0.001)
    assert speech.short_rating_points(delay_ms=200.0) == pytest.approx(85.903, abs=0.001)
    assert speech.short_rating_points(delay_ms=0.0, equipment_points=10.0) == pytest.approx(83.2)
