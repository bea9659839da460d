"""What was found or rehearsed beside what is planned. The rules and the list of differences speak from it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from doorwright.kernel.observation import Observation, Seen
from doorwright.kernel.verdict import Missing
from doorwright.model.aspect import Aspect
from doorwright.model.network import SipServer, Switch
from doorwright.model.part import Part
from doorwright.model.rehearsed import CALLS, apart_of, called_of, is_all_as_proved
from doorwright.model.unit import Unit
from doorwright.model.version import version_key
from doorwright.model.walk import Walk
from doorwright.rules.answers import ANSWERS, Amiss, amiss
from doorwright.rules.at_switch import AT_SWITCH, amiss_at_switch
from doorwright.rules.calls_apart import call_to_do, said_of
from doorwright.rules.corrections import Case, correction
from doorwright.rules.over_sip import OVER_SIP, amiss_over_sip
from doorwright.rules.planned import JUDGED, LINK_MBPS, planned


@dataclass(frozen=True, slots=True)
class Difference:
    """A unit, switch or server is not as planned: both values, what to do at which end, and the observation.

    Where ``missing`` is given, the plan does not say what it should be, and ``planned`` is empty. ``said`` tells the
    difference in words where its value alone would not. Of calls ``aspect`` names the key or number, ``planned`` is
    what the proof says and ``found`` what became of the first that went otherwise.
    """

    part: Unit | Switch | SipServer
    aspect: str
    planned: str
    found: str
    to_do: str
    seen: Observation
    missing: Missing | None = None
    also: tuple[Part, ...] = ()
    said: str = ""


def compare(
    walk: Walk, seen: Seen, part: Unit | Switch | SipServer, *aspects: Aspect, today: date | None = None
) -> Iterator[Difference | None]:
    """Yield for each of these aspects that was seen of a part the difference, or None where it is as planned.

    Of an aspect on which the plan has nothing to say, nothing is yielded; of a server only its answers are compared.

    Args:
        walk: the way around the site.
        seen: what was found.
        part: the part.
        aspects: the aspects to compare.
        today: the day for which certificates must be good; the day on which each was seen where there is none.
    """
    there: Mapping[str, Observation] = seen.get(part.subject, {})
    for aspect in aspects:
        observation = there.get(aspect)
        if observation is None:
            continue
        found = observation.value
        if aspect in (*ANSWERS, *OVER_SIP, *AT_SWITCH):
            wrong = _amiss(walk, part, aspect, observation, today or observation.seen_at.date())
            if wrong is None:
                yield None
            elif wrong.said:
                yield Difference(
                    part, aspect, wrong.planned, found, wrong.to_do, observation, also=wrong.also, said=wrong.said
                )
            continue
        if isinstance(part, SipServer):
            continue
        if aspect is Aspect.LINK and found.isdecimal() and int(found) >= LINK_MBPS:
            yield None  # whatever its cable is
            continue
        wanted = planned(walk, part, aspect)
        if wanted.missing is not None:
            to_do = f"the plan lacks the {wanted.missing}: enter it there, from what was found if that is right"
            yield Difference(part, aspect, "", found, to_do, observation, wanted.missing)
        elif wanted.value is not None and not _same(aspect, wanted.value, found):
            says = there[Aspect.REGISTRAR_SAYS].value if Aspect.REGISTRAR_SAYS in there else ""
            advice = correction(Case(walk, part, aspect, wanted.value, found, observation.stage, says))
            yield Difference(part, aspect, wanted.value, found, advice.to_do, observation, None, advice.also)
        elif wanted.value is not None:
            yield None


def _amiss(walk: Walk, part: Unit | Switch | SipServer, aspect: Aspect, seen: Observation, today: date) -> Amiss | None:
    if aspect in OVER_SIP:
        return amiss_over_sip(walk, part, aspect, seen.value)
    if aspect in AT_SWITCH:
        return amiss_at_switch(walk, part, aspect, seen.value)
    return amiss(walk, part, aspect, seen, today=today)


def compare_calls(walk: Walk, seen: Seen, unit: Unit) -> Iterator[Difference | None]:
    """Yield a difference for each key and number of a call unit whose calls went otherwise than proved.

    Where all calls that were made there went as proved, None is yielded.
    """
    for aspect, observation in seen.get(unit.subject, {}).items():
        called = called_of(aspect)
        apart = apart_of(observation.value) if called is not None else None
        if called is not None and apart is not None:
            to_do, said = call_to_do(walk, unit, called, apart), said_of(called, apart)
            yield Difference(unit, aspect, apart.proved, apart.happened, to_do, observation, said=said)
        elif aspect == CALLS and is_all_as_proved(observation.value):
            yield None


def differences(walk: Walk, seen: Seen) -> tuple[Difference, ...]:
    """Return every difference of every unit, switch and server, in the order of the site's tables."""
    parts: tuple[Unit | Switch | SipServer, ...] = (*walk.all(Unit), *walk.all(Switch), *walk.all(SipServer))
    of_parts = (one for part in parts for one in compare(walk, seen, part, *JUDGED, *ANSWERS, *OVER_SIP, *AT_SWITCH))
    of_calls = (one for unit in walk.all(Unit) for one in compare_calls(walk, seen, unit))
    return tuple(one for one in (*of_parts, *of_calls) if one is not None)


def _same(aspect: Aspect, wanted: str, found: str) -> bool:
    if aspect is Aspect.FIRMWARE:
        return _version(wanted) == _version(found)
    if aspect is Aspect.LINK:
        return found.isdecimal() and int(found) >= float(wanted)
    if aspect is Aspect.POE:  # the planned power is the most that it may take
        return 0 < float(found) <= float(wanted)
    if aspect is Aspect.MAC:
        wanted = wanted.replace(":", "-")
    return wanted.strip().casefold() == found.strip().casefold()


def _version(text: str) -> tuple[tuple[int, str], ...]:
    """Return the key of a version as units show it, some with a v before it."""
    return version_key(text.strip().casefold().removeprefix("v"))
