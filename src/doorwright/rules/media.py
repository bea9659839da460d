"""Media: units that call each other share a codec for sound and one for the picture."""

from collections.abc import Iterator
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.naming import named
from doorwright.model.place import Entrance
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import put_profile
from doorwright.rules.rule import Example, Facts, Found, Said, rule
from doorwright.rules.saying import found_or_holds

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc3261", "§13.2.1, offer and answer"), Cite("rfc3551", "§6, static payload types")),
    finds=Example("The units in the dwellings speak G.729 only.", put_profile("uru-video", audio=("G729",))),
    passes=Example("They share PCMA with the entrances.", put_profile("uru-video", audio=("G729", "PCMA"))),
)
def no_common_audio_codec(facts: Facts, entrance: Entrance) -> Said:
    """A visitor call unit and a user receiver unit share no audio codec.

    Why it matters: the call is refused with 488, or set up without a sound.
    What to do: choose units with a codec in common; nearly all have PCMU or PCMA.
    """
    yield from _codecs(facts.walk, entrance, "audio")


@rule(
    over=Entrance,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("rfc3261", "§13.2.1, offer and answer"), Cite("rfc6184")),
    finds=Example("The units in the dwellings show H.265 only.", put_profile("uru-video", video=("H265",))),
    passes=Example("They show no picture at all.", put_profile("uru-video", video=())),
)
def no_common_video_codec(facts: Facts, entrance: Entrance) -> Said:
    """A visitor call unit and a user receiver unit both have video, but no codec in common.

    Why it matters: residents hear the visitor and see nothing, and take the camera for broken.
    What to do: choose units with a video codec in common.
    """
    yield from _codecs(facts.walk, entrance, "video")


def _codecs(walk: Walk, entrance: Entrance, medium: str) -> Said:
    vcus = walk.units_at(entrance.id)
    if not vcus:
        return
    # a building has thousands of units but few types: each pair of types is judged once
    uru_of: dict[str, Unit] = {}
    for dwelling in walk.dwellings_served(entrance):
        for uru in walk.units_in(dwelling.id):
            known = uru_of.setdefault(uru.profile, uru)
            if uru.id < known.id:
                uru_of[uru.profile] = uru
    if not uru_of:
        return
    faults = [fault for vcu in vcus for uru in uru_of.values() for fault in _unlike(walk, vcu, uru, medium)]
    yield from found_or_holds(faults)


def _unlike(walk: Walk, vcu: Unit, uru: Unit, medium: str) -> Iterator[Found]:
    profiles: tuple[Profile | None, Profile | None] = (walk.profile(vcu.profile), walk.profile(uru.profile))
    near, far = profiles
    if near is None or far is None:
        return  # told by profile-not-in-site
    here, there = (near.audio, far.audio) if medium == "audio" else (near.video, far.video)
    if medium == "video" and not (here and there):
        return
    if not set(here) & set(there):
        yield Found(
            f"{named(walk, vcu)} has {medium} {', '.join(here) or 'none'},"
            f" units like {named(walk, uru)} have {', '.join(there) or 'none'}",
            (vcu, uru),
        )
