"""How does speech sound by what was measured of a call: loss, round trip, and the delays that are not measured?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc.speech import delay_budget, speech_rating
from doorwright.model.media import MediaChoices
from doorwright.model.profile import Profile
from doorwright.studies.speech_path import factors_of
from doorwright.studies.study import Step, Trail

UNTOLD_MS: Final = 0.0
"""What is taken where nothing is known: the rating is then a best case, and says so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSpeech:
    """The rating of one direction of a call.

    ``rating_points`` is R of the narrowband E-model (ITU-T G.107), ``opinion_points`` the mean opinion score that
    belongs to it, ``delay_ms`` the delay from mouth to ear that went into it; ``assumed`` says in words what of it was
    not measured.
    """

    rating_points: float
    opinion_points: float
    delay_ms: float
    assumed: tuple[str, ...]
    steps: tuple[Step, ...]


def measured_speech(
    *,
    codec: str,
    profile: Profile | None,
    media: MediaChoices,
    packet_ms: float,
    round_trip_ms: float | None,
    gone_ratio: float,
    burst_ratio: float = 1.0,
) -> MeasuredSpeech | None:
    """Return the rating of one direction; None for a codec that the narrowband model does not rate.

    Both ends are taken as units of the called unit's type: a test call is to say how a visitor would be heard.

    Args:
        codec: by the name that SDP gives it.
        profile: the type of the unit.
        media: what the site assumes.
        packet_ms: speech in one packet, milliseconds.
        round_trip_ms: the measured round trip of the network, if any.
        gone_ratio: share of the packets that were lost or too late.
        burst_ratio: mean length of bursts of loss over that under random loss.
    """
    factors = factors_of(codec, conceals=profile is not None and profile.conceals_loss)
    if factors is None:
        return None
    assumed: list[str] = []
    own_ms = profile.audio_delay_ms if profile is not None else None
    assumed.append(
        f"each unit takes {own_ms:g} ms itself, by the profile"
        if own_ms is not None
        else "the units' own delay is taken as 0 ms, as the profile does not say"
    )
    held_ms = profile.jitter_buffer_ms if profile is not None else None
    held_ms = held_ms if held_ms is not None else media.jitter_buffer_ms
    assumed.append(f"a jitter buffer of {held_ms:g} ms, {packet_ms:g} ms of speech in a packet")
    network_ms = UNTOLD_MS
    if round_trip_ms is not None:
        network_ms = round_trip_ms / 2.0
        assumed.append("the way through the network takes half the round trip")
    else:
        assumed.append("the way through the network is taken as 0 ms, as no report told the round trip")
    trail = Trail()
    budget = trail.run(
        delay_budget,
        sender_ms=own_ms or UNTOLD_MS,
        packet_ms=packet_ms,
        hop_count=1,
        hop_delay_ms=network_ms,
        jitter_buffer_ms=held_ms,
        receiver_ms=own_ms or UNTOLD_MS,
    )
    rating = trail.run(
        speech_rating,
        delay_ms=budget.total_ms,
        impairment_points=factors[0],
        robustness_percent=factors[1],
        loss_percent=100.0 * gone_ratio,
        burst_ratio=burst_ratio,
    )
    return MeasuredSpeech(
        rating_points=rating.rating_points,
        opinion_points=rating.opinion_points,
        delay_ms=budget.total_ms,
        assumed=tuple(assumed),
        steps=trail.steps,
    )
