"""Weekly windows as text: ``Mon-Fri 08:00-12:30, 13:30-18:00; Sat 9-12; Hol 10-12``, and back."""

import re
from typing import Final

from doorwright.model.calling import DAY_MIN, DAYS, HOLIDAY, Window


class WindowsUnreadable(ValueError):  # noqa: N818  (an answer about a text, not an error of the program)
    """The text names no days and times."""


_FULL: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_GROUPS: Final = {
    "daily": tuple(range(7)), "everyday": tuple(range(7)), "every day": tuple(range(7)), "all days": tuple(range(7)),
    "weekdays": tuple(range(5)), "weekday": tuple(range(5)), "weekend": (5, 6), "weekends": (5, 6),
}  # fmt: skip
_HOL: Final = r"\b(?:(?:bank|public|national)\s+)?(?:holidays?|hols?)\b\.?"
_HOLIDAY_WORDS: Final = re.compile(_HOL)
_CLOSED: Final = re.compile(
    rf"[;,]?\s*\(?(?:{_HOL}\s*[:=,–—-]?\s*(?:closed|shut|none|off)"
    rf"|\b(?:not(?: on)?|except(?: on)?|excluding|closed(?: on)?)\s+{_HOL})\)?(?!\w)",
    re.IGNORECASE,
)
_ALWAYS: Final = frozenset({"always", "24/7", "all day", "24h", "24 h"})
_TIME: Final = r"(\d{1,2})(?:[:.h](\d{2}))?\s*h?\s*(am|pm|a\.m\.|p\.m\.)?"
_SPAN: Final = re.compile(rf"{_TIME}\s*(?:-|to)\s*{_TIME}")
_BLOCK: Final = re.compile(r"(?P<days>[^\d]*?)\s*(?P<times>\d.*|always|all day|24h|24/7)?")


def windows_of(text: str) -> tuple[Window, ...]:
    """Return the windows that a text names; days without times mean the whole day.

    Raises:
        WindowsUnreadable: it names none.
    """
    windows: list[Window] = []
    for block in re.split(r"[;\n]", re.sub(r"[–—−]", "-", text).casefold()):
        if block.strip():
            windows += _block(_HOLIDAY_WORDS.sub("hol", block.strip()))
    if not windows:
        raise WindowsUnreadable("this names no days and times")
    return tuple(windows)


def closed_on_holidays(text: str) -> tuple[str, bool]:
    """Return a text of windows without the words "Hol closed" or "not on holidays", and whether it had them."""
    left, count = _CLOSED.subn("", text)
    return (left.strip(" ;,\n"), True) if count else (text, False)


def _block(block: str) -> list[Window]:
    if block in _ALWAYS:
        return [Window(days=tuple(range(7)), start_min=0, end_min=DAY_MIN)]
    found = _BLOCK.fullmatch(block)
    if found is None:
        raise WindowsUnreadable(f'"{block}" names no days and times')
    named, times = found["days"].strip(" :,"), found["times"] or ""
    days = _days(named) if named else tuple(range(7))
    if not times or times in _ALWAYS:
        return [Window(days=days, start_min=0, end_min=DAY_MIN)]
    return [_window(days, span.strip()) for span in re.split(r",|\band\b|\+", times) if span.strip()]


def _window(days: tuple[int, ...], span: str) -> Window:
    found = _SPAN.fullmatch(span)
    if found is None:
        raise WindowsUnreadable(f'"{span}" is no span of time')
    end_half = found[6] or ""
    start = _minute(found[1], found[2], found[3] or "")
    end = _minute(found[4], found[5], end_half)
    if start == DAY_MIN:
        raise WindowsUnreadable(f'"{span}" starts at the end of the day')
    return Window(days=days, start_min=start, end_min=end)


def _minute(hour: str, minute: str | None, half: str) -> int:
    hours, minutes = int(hour), int(minute or 0)
    if half:
        if not 1 <= hours <= 12:
            raise WindowsUnreadable(f'"{hour} {half}" is no time of day')
        hours = hours % 12 + (12 if half.startswith("p") else 0)
    if minutes > 59 or hours * 60 + minutes > DAY_MIN:
        raise WindowsUnreadable(f'"{hour}:{minute or "00"}" is no time of day')
    return hours * 60 + minutes


def _days(text: str) -> tuple[int, ...]:
    if text in _GROUPS:
        return _GROUPS[text]
    days: list[int] = []
    spans = re.sub(r"\s*-\s*|\s+to\s+", "-", text)
    for item in re.split(r"[,&+/\s]+|\band\b", spans):
        word = item.strip(" .")
        if not word or word == "and":
            continue
        if word in _GROUPS:
            days += _GROUPS[word]
            continue
        ends = [_day(end) for end in word.split("-")]
        if len(ends) > 2 or (len(ends) == 2 and HOLIDAY in ends):
            raise WindowsUnreadable(f'"{word}" is no span of days')
        if ends == [HOLIDAY]:
            days.append(HOLIDAY)
            continue
        span = range(ends[0], ends[-1] + (0 if ends[-1] >= ends[0] else 7) + 1)
        days += [day % 7 for day in span]
    if not days:
        raise WindowsUnreadable(f'"{text}" names no day of the week')
    return tuple(days)


def _day(word: str) -> int:
    word = word.strip(" .")
    if word == "hol":
        return HOLIDAY
    for number, name in enumerate(_FULL):
        if len(word) >= 2 and (name.startswith(word) or word == f"{name}s"):
            return number
    raise WindowsUnreadable(f'"{word}" is no day of the week')


def show_windows(windows: tuple[Window, ...]) -> str | None:
    """Return windows as the text that ``windows_of`` reads; None where there are none."""
    blocks: list[str] = []
    for number, window in enumerate(windows):
        span = f"{_clock(window.start_min)}-{_clock(window.end_min)}"
        if number and windows[number - 1].days == window.days:
            blocks[-1] += f", {span}"
        else:
            blocks.append(f"{_show_days(window.days)} {span}")
    return "; ".join(blocks) or None


def _show_days(days: tuple[int, ...]) -> str:
    if days[-1:] == (HOLIDAY,) and len(days) > 1:
        return f"{_show_days(days[:-1])},{DAYS[HOLIDAY]}"
    if len(days) > 2 and HOLIDAY not in days and days == tuple(range(days[0], days[-1] + 1)):
        return f"{DAYS[days[0]]}-{DAYS[days[-1]]}"
    return ",".join(DAYS[day] for day in days)


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
