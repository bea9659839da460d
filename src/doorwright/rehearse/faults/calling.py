"""Faults of calling: keys, hours and clocks, units that nobody hears."""

from collections.abc import Iterator
from random import Random

from doorwright.paths.week import AXIS_MIN
from doorwright.rehearse.box import Box
from doorwright.rehearse.faults.fault import Boxes, Fault, altered, answers, in_boxes, sent_on
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import Planned


def calling_faults() -> Iterator[Fault]:
    """Yield the faults of calling."""
    yield Fault("key-wrong", "key names the wrong number", Look.ONE_KEY, _has_keys, in_boxes(_key_wrong))
    hours = "timetable entered wrongly"
    yield Fault("timetable-wrong", hours, Look.SOME_HOURS, _has_hours, in_boxes(_timetable_wrong))
    yield Fault("clock-wrong", "clock wrong", Look.SOME_HOURS, _has_hours, in_boxes(_clock_wrong))
    yield Fault("muted", "unit muted or set not to disturb", Look.NOT_HEARD, answers, in_boxes(_muted))


def _has_keys(plan: Planned, box: Box) -> bool:
    return len(set(box.keys.values()) - sent_on(plan.boxes, box)) > 1


def _has_hours(_plan: Planned, box: Box) -> bool:
    return bool(box.call_hours or box.desk_hours)


def _key_wrong(boxes: Boxes, box: Box, chance: Random) -> Boxes:
    elsewhere = sent_on(boxes, box)
    key = chance.choice(sorted(key for key, number in box.keys.items() if number not in elsewhere))
    number = chance.choice(sorted(set(box.keys.values()) - {box.keys[key]} - elsewhere))
    return altered(box, keys={**box.keys, key: number})


def _timetable_wrong(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    """The windows of the first timetable were entered with evening for morning: each holds when it should not."""
    ident = (box.call_hours or tuple(one for one, _ in box.desk_hours))[0]
    spans = tuple(((a + 720) % AXIS_MIN, (b + 720) % AXIS_MIN or AXIS_MIN) for a, b in box.hours.get(ident, ()))
    return altered(box, hours={**box.hours, ident: tuple(sorted(s for s in spans if s[0] < s[1]))})


def _clock_wrong(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    return altered(box, clock_late_min=60)


def _muted(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    return altered(box, muted=True)
