"""Streams: no link is fuller than it may be, and speech arrives soon and whole enough to talk."""

from typing import Final

from doorwright.calc.speech import CEILING_MS, TRANSPARENT_MS
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.kernel.words import counted
from doorwright.model.media import MediaChoices
from doorwright.model.naming import named
from doorwright.model.network import CableRun, Switch
from doorwright.model.place import Entrance
from doorwright.model.unit import Unit
from doorwright.rules.example import as_it_is, put_profile, put_site
from doorwright.rules.rule import Example, Facts, Said, rule
from doorwright.rules.saying import answered
from doorwright.studies.link_streams import LinkStreams, link_streams
from doorwright.studies.speech_path import SpeechPath, speech_path

PLANNING: Final = (Phase.PLANNING,)
MEDIUM_POINTS: Final = 70.0
"""Least rating R of which G.109 says "medium" quality, some users dissatisfied; below it many are."""
DELAY: Final = Cite("itu-g114", "one-way delay for planning of networks")


@rule(
    over=CableRun,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("rfc3550", "section 5.1"), Cite("rfc6184", "section 5.8"), Cite("practice", "fill a link to half")),
    finds=Example(
        "The call unit at the main entrance sends pictures at 60 Mb/s.", put_profile("vcu-direct", video_kbps=60_000.0)
    ),
    passes=Example("It sends them at 2 Mb/s.", put_profile("vcu-direct", video_kbps=2_000.0)),
)
def link_too_full(facts: Facts, run: CableRun) -> Said:
    """Calls can fill a link of the network beyond the share of its rate that they may use.

    Why it matters: pictures freeze and speech breaks up just when many doors ring at once.
    What to do: lower the bit rate of the pictures, send them as multicast, or link the switches by a faster port.
    """

    def wrong(streams: LinkStreams) -> str | None:
        if streams.use_ratio <= streams.assumed_limit_ratio:
            return None
        ends = [facts.walk.find(Switch, run.near), facts.walk.find(Switch, run.far) or facts.walk.find(Unit, run.far)]
        between = " and ".join(named(facts.walk, end) for end in ends if end is not None)
        calls_count = streams.down_calls_count + streams.up_calls_count
        return (
            f"the link {run.label} between {between} would be {100.0 * streams.use_ratio:.0f} % full of"
            f" {streams.link_mbps:g} Mb/s with {counted(calls_count, 'call')} at once, it may be"
            f" {100.0 * streams.assumed_limit_ratio:.0f} %"
        )

    yield from answered(link_streams(facts.walk, run), wrong)


@rule(
    over=Entrance,
    severity=Severity.NOTE,
    phases=PLANNING,
    cites=(DELAY,),
    finds=Example("The receivers hold speech back for 150 ms.", put_profile("uru-video", jitter_buffer_ms=150.0)),
    passes=Example("They hold it back for 40 ms.", as_it_is),
)
def speech_delay_noticed(facts: Facts, entrance: Entrance) -> Said:
    """Speech takes longer from mouth to ear than people fail to notice.

    Why it matters: both begin to speak at once and stop at once, and say everything twice.
    What to do: use shorter packets or jitter buffers, or units with less delay of their own.
    """

    def wrong(path: SpeechPath) -> str | None:
        # a delay beyond the ceiling is told by speech-delay-too-long
        if not TRANSPARENT_MS < path.delay_ms <= CEILING_MS:
            return None
        return (
            f"{named(facts.walk, entrance)}: speech takes up to {path.delay_ms:.0f} ms one way over"
            f" {counted(path.links_count, 'link')}; below {TRANSPARENT_MS:.0f} ms nobody notices"
        )

    yield from answered(facts.walk.once(speech_path, entrance), wrong)


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(DELAY,),
    finds=Example("The receivers hold speech back for 400 ms.", put_profile("uru-video", jitter_buffer_ms=400.0)),
    passes=Example("They hold it back for 40 ms.", as_it_is),
)
def speech_delay_too_long(facts: Facts, entrance: Entrance) -> Said:
    """Speech takes longer from mouth to ear than networks may be planned for.

    Why it matters: there is no talking to and fro any more; visitors take the system for broken.
    What to do: use shorter packets or jitter buffers, or units with less delay of their own.
    """

    def wrong(path: SpeechPath) -> str | None:
        if path.delay_ms <= CEILING_MS:
            return None
        return (
            f"{named(facts.walk, entrance)}: speech takes up to {path.delay_ms:.0f} ms one way over"
            f" {counted(path.links_count, 'link')}; no plan is to exceed {CEILING_MS:.0f} ms"
        )

    yield from answered(facts.walk.once(speech_path, entrance), wrong)


@rule(
    over=Entrance,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("itu-g107", "clause 7"), Cite("itu-g113", "Appendix I"), Cite("itu-g109", "categories of quality")),
    finds=Example("One packet in ten is lost.", put_site(media=MediaChoices(loss_ratio=0.1))),
    passes=Example("None is lost.", as_it_is),
)
def speech_rated_low(facts: Facts, entrance: Entrance) -> Said:
    """Speech from an entrance is rated so low that many users are dissatisfied.

    Why it matters: a name that is not understood is asked for three times, and then the door is opened unasked.
    What to do: find out where packets are lost, and choose units that conceal lost ones or a codec that bears it.
    """

    def wrong(path: SpeechPath) -> str | None:
        if path.rating_points is None or path.rating_points >= MEDIUM_POINTS:
            return None
        return (
            f"{named(facts.walk, entrance)}: {path.codec} with {100.0 * path.assumed_loss_ratio:.1f} % of the packets"
            f" lost is rated R {path.rating_points:.0f}; {MEDIUM_POINTS:.0f} is the least of medium quality."
            f" A rating for planning, of narrowband speech in a quiet place"
        )

    yield from answered(facts.walk.once(speech_path, entrance), wrong)
