"""How does speech between an entrance and those called from it sound, by the worst way through the network?"""

from collections.abc import Iterator, Set
from dataclasses import dataclass
from typing import Final

from doorwright.calc.speech import delay_budget, speech_codec, speech_rating
from doorwright.kernel.verdict import Missing
from doorwright.model.network import CableRun
from doorwright.model.place import Entrance
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.call_media import agreed
from doorwright.studies.homes import Receiver, homes_served, receiver_of
from doorwright.studies.study import Study, Trail
from doorwright.studies.switch_tree import links_count_from, switch_of
from doorwright.studies.visiting import call_units_at, desk_units

TITLE: Final = "Speech from the entrance, by the worst way"
UNRATED: Final = "not rated by the narrowband model (ITU-T G.107.1 rates wideband)"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechPath:
    """The worst speech that can be met from an entrance, in either direction.

    ``codec`` is the one that the worst call uses, ``links_count`` the links that it crosses. ``rating_points`` is the
    rating R of the narrowband E-model with the figures of G.113 for the codec, None where that model does not rate the
    codec; ``delay_ms`` is the longest delay from mouth to ear. Loss and its bursts are what the site assumes.
    """

    codec: str
    links_count: int
    delay_ms: float
    assumed_loss_ratio: float
    assumed_burst_ratio: float
    rating_points: float | None
    opinion_points: float | None

    @property
    def rated(self) -> str:
        """The rating in words."""
        return f"R {self.rating_points:.1f}" if self.rating_points is not None else UNRATED


@dataclass(frozen=True, slots=True)
class _Way:
    sender: Profile
    receiver: Profile
    codec: str
    links_count: int


def speech_path(walk: Walk, entrance: Entrance) -> Study[SpeechPath]:
    """Study the delay and the rating of speech between an entrance and the receivers and desks called from it.

    The question does not arise where there is no call unit, nobody to call, or no codec in common.
    """
    missing: dict[Missing, None] = {}
    ways: list[_Way] = []
    for found in _ways(walk, entrance):
        if isinstance(found, Missing):
            missing[found] = None
        else:
            ways.append(found)
    if missing or not ways:
        return Study(entrance.subject, TITLE, missing=tuple(missing))
    cases = [_rated(walk, way) for way in ways]
    slowest_ms = max(value.delay_ms for value, _ in cases)
    # what is rated low comes first, then what takes long; unrated calls only where there are no others
    worst, trail = min(
        cases,
        key=lambda case: (
            case[0].rating_points if case[0].rating_points is not None else float("inf"),
            -case[0].delay_ms,
            case[0].codec,
        ),
    )
    value = SpeechPath(
        codec=worst.codec,
        links_count=worst.links_count,
        delay_ms=slowest_ms,
        assumed_loss_ratio=worst.assumed_loss_ratio,
        assumed_burst_ratio=worst.assumed_burst_ratio,
        rating_points=worst.rating_points,
        opinion_points=worst.opinion_points,
    )
    return Study(entrance.subject, TITLE, value, steps=trail.steps)


def _ways(walk: Walk, entrance: Entrance) -> Iterator[_Way | Missing]:
    """Yield the longest way between each two types of unit, in both directions, and what is missing for them."""
    receivers = {one for home in walk.once(homes_served, entrance) for one in home.receivers}
    if entrance.calls_desk:
        receivers.update(receiver_of(walk, desk) for desk in desk_units(walk))
    for caller in call_units_at(walk, entrance):
        links_to = _links_to(walk, caller, receivers)
        if isinstance(links_to, Missing):
            yield links_to
            continue
        own = walk.profile(caller.profile)
        for key, links_count in sorted(links_to.items()):
            other = walk.profile(key)
            if own is None or other is None:
                yield Missing(Unit.KIND, "profile")
                continue
            codec = agreed(own.audio, other.audio)
            if codec is None:
                continue  # told by no-common-audio-codec
            if own.audio_delay_ms is None or other.audio_delay_ms is None:
                yield Missing("profile", "audio delay")
                continue
            yield _Way(own, other, codec, links_count)
            yield _Way(other, own, codec, links_count)


def _links_to(walk: Walk, caller: Unit, receivers: Set[Receiver]) -> dict[str, int] | Missing:
    """Return how many links lie between a call unit and the farthest receiver of each type, by profile."""
    if not receivers:
        return {}
    start = walk.once(switch_of, caller)
    switches = frozenset(receiver.switch for receiver in receivers if receiver.switch is not None)
    if start is None or any(receiver.switch is None for receiver in receivers):
        return Missing(CableRun.KIND, "run to the unit")
    between = links_count_from(walk, start, wanted=switches)
    farthest: dict[str, int] = {}
    for receiver in receivers:
        if receiver.switch not in between:
            return Missing(CableRun.KIND, "run between the switches")
        # the links of both units themselves come on top
        farthest[receiver.profile] = max(farthest.get(receiver.profile, 0), between[receiver.switch] + 2)
    return farthest


def _rated(walk: Walk, way: _Way) -> tuple[SpeechPath, Trail]:
    media = walk.settings().media
    trail = Trail()
    held_ms = way.receiver.jitter_buffer_ms
    budget = trail.run(
        delay_budget,
        sender_ms=way.sender.audio_delay_ms or 0.0,
        packet_ms=media.packet_ms,
        hop_count=way.links_count,
        hop_delay_ms=media.hop_delay_ms,
        jitter_buffer_ms=held_ms if held_ms is not None else media.jitter_buffer_ms,
        receiver_ms=way.receiver.audio_delay_ms or 0.0,
    )
    rating_points = opinion_points = None
    factors = factors_of(way.codec, conceals=way.receiver.conceals_loss)
    if factors is not None:
        rating = trail.run(
            speech_rating,
            delay_ms=budget.total_ms,
            impairment_points=factors[0],
            robustness_percent=factors[1],
            loss_percent=100.0 * media.loss_ratio,
            burst_ratio=media.burst_ratio,
        )
        rating_points, opinion_points = rating.rating_points, rating.opinion_points
    value = SpeechPath(
        codec=way.codec,
        links_count=way.links_count,
        delay_ms=budget.total_ms,
        assumed_loss_ratio=media.loss_ratio,
        assumed_burst_ratio=media.burst_ratio,
        rating_points=rating_points,
        opinion_points=opinion_points,
    )
    return value, trail


def factors_of(codec: str, *, conceals: bool) -> tuple[float, float] | None:
    """Return impairment and robustness of a codec as the receiver plays it, None where the model has none for it."""
    for key in (f"{codec} with concealment",) * conceals + (codec,):
        try:
            known = speech_codec(key)
        except LookupError:
            continue
        if known.impairment_points is not None and known.robustness_percent is not None:
            return known.impairment_points, known.robustness_percent
    return None
