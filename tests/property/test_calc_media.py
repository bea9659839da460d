"""What must hold of speech ratings and streams whatever the figures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doorwright.calc import speech, streams

delays_ms = st.floats(min_value=0.0, max_value=600.0)
losses_percent = st.floats(min_value=0.0, max_value=20.0)
robustness_percent = st.floats(min_value=1.0, max_value=40.0)


@given(st.floats(min_value=10.0, max_value=600.0), st.floats(min_value=0.01, max_value=100.0))
def test_a_longer_way_never_sounds_better(delay_ms: float, more_ms: float) -> None:
    sooner, later = (speech.speech_rating(delay_ms=each).rating_points for each in (delay_ms, delay_ms + more_ms))
    # only from some milliseconds on: equation 7-19 makes the talker echo of the shortest ways a shade less than none
    assert later <= sooner + 1e-9


@given(losses_percent, st.floats(min_value=0.01, max_value=10.0), robustness_percent)
def test_more_loss_never_sounds_better(loss_percent: float, more_percent: float, bpl_percent: float) -> None:
    impairments = [
        speech.equipment_impairment_points(impairment_points=0.0, robustness_percent=bpl_percent, loss_percent=each)
        for each in (0.0, loss_percent, loss_percent + more_percent)
    ]
    assert impairments[0] == 0.0
    assert impairments == sorted(impairments)
    assert impairments[-1] < 95.0


@given(st.floats(min_value=0.01, max_value=20.0), robustness_percent, st.floats(min_value=1.01, max_value=8.0))
def test_bursts_sound_worse_than_chance(loss_percent: float, bpl_percent: float, burst_ratio: float) -> None:
    by_chance, in_bursts = (
        speech.equipment_impairment_points(
            impairment_points=0.0, robustness_percent=bpl_percent, loss_percent=loss_percent, burst_ratio=each
        )
        for each in (1.0, burst_ratio)
    )
    assert in_bursts > by_chance


@given(delays_ms, losses_percent)
def test_the_rating_is_the_sum_of_its_parts(delay_ms: float, loss_percent: float) -> None:
    rated = speech.speech_rating(delay_ms=delay_ms, loss_percent=loss_percent, robustness_percent=25.1)
    impairments = (
        rated.simultaneous_points
        + rated.talker_echo_points
        + rated.listener_echo_points
        + rated.delay_points
        + rated.equipment_points
    )
    assert rated.rating_points == pytest.approx(rated.signal_to_noise_points - impairments)
    assert 1.0 <= rated.opinion_points <= 4.5


@given(st.floats(min_value=0.0, max_value=300.0))
def test_the_reduced_model_agrees_with_the_whole_one(delay_ms: float) -> None:
    """Cole and Rosenbluth fitted their two lines to the model's curve: they stay within about four points of it."""
    whole = speech.speech_rating(delay_ms=delay_ms).rating_points
    assert speech.short_rating_points(delay_ms=delay_ms) == pytest.approx(whole, abs=4.0)


@given(st.floats(min_value=1.0, max_value=384.0), st.floats(min_value=5.0, max_value=60.0), st.booleans())
def test_headers_add_what_they_weigh(payload_kbps: float, packet_ms: float, tagged: bool) -> None:
    stream = streams.speech_stream(payload_kbps=payload_kbps, packet_ms=packet_ms, tagged=tagged)
    per_packet = 8.0 / 1000.0 * stream.packets_per_s
    assert stream.network_kbps == pytest.approx(payload_kbps + 40 * per_packet)
    assert stream.line_kbps == pytest.approx(stream.frame_kbps + 20 * per_packet)
    assert stream.frame_kbps >= (64 + 4 * tagged) * per_packet * (1 - 1e-12)
    assert stream.frame_kbps >= stream.network_kbps + (18 + 4 * tagged) * per_packet * (1 - 1e-12)


@given(st.floats(min_value=1.0, max_value=1e5), st.floats(min_value=0.1, max_value=1.0))
def test_as_many_calls_as_a_link_is_said_to_carry_fit(call_kbps: float, limit_ratio: float) -> None:
    def used(count: int) -> streams.LinkUse:
        kbps = count * call_kbps
        return streams.link_use(
            down_kbps=kbps, up_kbps=kbps / 2, link_mbps=100.0, limit_ratio=limit_ratio, call_kbps=call_kbps
        )

    most = used(0).calls_most_count
    assert used(most).use_ratio <= limit_ratio * (1 + 1e-6)
    assert used(most + 1).use_ratio > limit_ratio


def test_extreme_sidetone_corrects_the_talker_echo() -> None:
    """ITU-T G.107, equations 7-22 and 7-23 (from memory): above 20 dB the two impairments add as squares."""
    usual = speech.speech_rating(delay_ms=150.0, connection=speech.Connection(sidetone_db=20.0))
    faint = speech.speech_rating(delay_ms=150.0, connection=speech.Connection(sidetone_db=20.001))
    # Ist is all that differs between both sides of the edge: the squares of Idte and Ist make up the corrected one
    sidetone_squared = faint.talker_echo_points**2 - usual.talker_echo_points**2
    assert sidetone_squared > 0.0
    loud = speech.speech_rating(delay_ms=150.0, connection=speech.Connection(sidetone_db=8.999))
    medium = speech.speech_rating(delay_ms=150.0, connection=speech.Connection(sidetone_db=9.0))
    # below 9 dB half of Ist is added to the echo's loss: with Ist above zero the echo then counts less
    assert loud.talker_echo_points < medium.talker_echo_points


def test_codecs_that_nobody_listed_are_refused() -> None:
    with pytest.raises(LookupError, match="no factors for the codec 'X'"):
        speech.speech_codec("X")
    with pytest.raises(LookupError, match="no payload rate for the codec 'X'"):
        streams.speech_rate("X")


def test_wideband_has_no_place_on_the_narrowband_scale() -> None:
    assert speech.speech_codec("G722").impairment_points is None
