"""Which codecs two units agree on, and what their streams take."""

from dataclasses import dataclass
from functools import lru_cache

from doorwright.calc.streams import picture_stream, speech_rate, speech_stream
from doorwright.kernel.verdict import Missing
from doorwright.model.media import MediaChoices
from doorwright.model.profile import Profile
from doorwright.studies.study import Step, Trail


@dataclass(frozen=True, slots=True)
class CallMedia:
    """What one call takes of a link in each direction, and the calculations behind it.

    ``picture_kbps`` runs from the call unit to each receiver, 0 where they share no codec for pictures; ``speech_kbps``
    runs both ways.
    """

    picture_kbps: float
    speech_kbps: float
    steps: tuple[Step, ...]


def agreed(offered: tuple[str, ...], answered: tuple[str, ...]) -> str | None:
    """Return the codec that an offer and its answer settle on: the first offered that the other has (RFC 3264 §6.1).

    The side that answers may order its own way; the units of door entry commonly keep the order of the offer.
    """
    return next((codec for codec in offered if codec in answered), None)


@lru_cache(maxsize=4096)
def call_media(caller: Profile, receiver: Profile, media: MediaChoices) -> CallMedia | tuple[Missing, ...]:
    """Return what a call between two types of unit takes, or the facts that are missing for it.

    Where they share no codec for speech no call comes about, and nothing is sent.
    """
    trail = Trail()
    speech = agreed(caller.audio, receiver.audio)
    if speech is None:
        return CallMedia(0.0, 0.0, ())
    missing = []
    speech_kbps = picture_kbps = 0.0
    try:
        rate = speech_rate(speech)
    except LookupError:
        missing.append(Missing("profile", f"bit rate of the audio codec {speech}"))
    else:
        stream = trail.run(
            speech_stream, payload_kbps=rate.payload_kbps, packet_ms=media.packet_ms, tagged=media.tagged
        )
        speech_kbps = stream.line_kbps
    if agreed(caller.video, receiver.video) is not None:
        if caller.video_kbps is None:
            missing.append(Missing("profile", "video bit rate"))
        else:
            picture = trail.run(picture_stream, payload_kbps=caller.video_kbps, tagged=media.tagged)
            picture_kbps = picture.line_kbps
    return tuple(missing) if missing else CallMedia(picture_kbps, speech_kbps, trail.steps)
