"""The proof of a book's call paths as plain values: what ``paths --json`` prints and the page of calls is made from."""

from typing import Any

from doorwright.app.ask_paths import Answer, answer
from doorwright.app.prove_paths import Proved
from doorwright.model.calling import DAY_MIN
from doorwright.model.place import Dwelling, Entrance
from doorwright.paths.call import Behaviour
from doorwright.paths.dated import pieces_on
from doorwright.paths.doubts import doubts
from doorwright.paths.proof import Calls, Group
from doorwright.paths.telling import clock, named_desk, tell_call, tell_frees, tell_spans
from doorwright.paths.week import day_name


def answers_of(proved: Proved) -> tuple[Answer, ...]:
    """Return one answer an entrance where a single call at a moment is asked about."""
    if proved.called is None or proved.when is None:
        return ()
    at = (proved.proof.entrances[entrance.id] for entrance in proved.entrances)
    return tuple(answer(proved.walk, one, proved.called, proved.when) for one in at)


def doubts_of(proved: Proved) -> tuple[str, ...]:
    """Return what does not hold of what is asked about, in words."""
    return doubts(
        proved.walk, proved.proof, entrances=[entrance.id for entrance in proved.entrances], concerns=proved.concerns
    )


def behaviours_of(proved: Proved, calls: Calls) -> tuple[Behaviour, ...]:
    """Return what calls do in the week, or at the moment that is asked about."""
    return calls.behaviours if proved.when is None else (calls.at(proved.when.minute),)


def as_rows(proved: Proved, answers: tuple[Answer, ...]) -> dict[str, Any]:
    """Return all of it: entrances with their groups and desks, the answers to one call, and what does not hold."""
    when = proved.when
    return {
        "revision": proved.revision,
        "at": None if when is None else str(when),
        "remark": when.remark if when is not None else "",
        "instants": [f"{at:%Y-%m-%dT%H:%MZ}" for at in when.dated.instants] if when is not None and when.dated else [],
        "on": None if proved.on is None else proved.on.isoformat(),
        "entrances": [_entrance_as_rows(proved, entrance) for entrance in proved.entrances],
        "answers": [_answer_as_rows(one) for one in answers],
        "doubts": list(doubts_of(proved)),
        "time_zone": proved.walk.settings().time_zone,
    }


def _entrance_as_rows(proved: Proved, entrance: Entrance) -> dict[str, Any]:
    at = proved.proof.entrances[entrance.id]
    return {
        "entrance": entrance.name,
        "silent": tell_spans(at.silent),
        "trade_release": tell_spans(at.trade),
        "groups": [
            {"dwellings": _labels(proved, group), **_calls_as_rows(proved, group)} for group in proved.groups(entrance)
        ],
        "desks": [
            {"desk": named_desk(proved.walk, calls.desk), **_calls_as_rows(proved, calls)}
            for calls in proved.desks(entrance)
        ],
    }


def _labels(proved: Proved, group: Group) -> list[str]:
    dwellings = group.dwellings if proved.called is None else (proved.called.id,)
    return [proved.walk.get(Dwelling, ident).door_label for ident in dwellings]


def _calls_as_rows(proved: Proved, calls: Calls) -> dict[str, Any]:
    walk, when = proved.walk, proved.when
    rows: dict[str, Any] = {
        "behaviours": [
            {
                "when": tell_spans(calls.when([one])),
                "call": tell_call(walk, one.call),
                "may_free": tell_frees(walk, one),
            }
            for one in behaviours_of(proved, calls)
        ],
        "stretches": [
            {
                "from": f"{day_name(stretch.start_min // DAY_MIN)} {clock(stretch.start_min % DAY_MIN)}",
                "minutes": stretch.end_min - stretch.start_min,
                "call": tell_call(walk, stretch.behaviour.call),
            }
            for stretch in calls.stretches
            if when is None or stretch.start_min <= when.minute < stretch.end_min
        ],
    }
    if proved.on is not None and proved.zone is not None:
        pieces = pieces_on(calls.stretches, proved.on, zone=proved.zone, holidays=walk.settings().holidays)
        rows["day"] = [
            {
                "from": piece.opens.astimezone(proved.zone).isoformat(timespec="minutes"),
                "until": piece.closes.astimezone(proved.zone).isoformat(timespec="minutes"),
                "from_utc": f"{piece.opens:%Y-%m-%dT%H:%MZ}",
                "until_utc": f"{piece.closes:%Y-%m-%dT%H:%MZ}",
                "call": tell_call(walk, piece.behaviour.call),
                "may_free": tell_frees(walk, piece.behaviour),
            }
            for piece in pieces
        ]
    return rows


def _answer_as_rows(one: Answer) -> dict[str, Any]:
    return {
        "entrance": one.entrance.name,
        "called": one.called.label,
        "ringing": [
            {
                "from_s": ringing.start_s,
                "until_s": ringing.end_s,
                "after": [[cause.value for cause in causes] for causes in ringing.causes],
                "who": ringing.who,
                "units": list(ringing.units),
                "end": ringing.end,
            }
            for ringing in one.ringings
        ],
        "may_free": [{"who": who, "doors": list(doors)} for who, doors in one.frees],
        "trade_release": list(one.trade_doors),
    }
