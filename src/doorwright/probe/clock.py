"""How far another clock is from ours, by the date that its owner puts on an answer."""

from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Final

_CUT_OFF: Final = timedelta(seconds=0.5)
"""A date says whole seconds and drops the rest (RFC 9110 §5.6.7): half a second on average."""


def ahead_s(date: str, *, asked_at: datetime, heard_at: datetime) -> int | None:
    """Return how many seconds their clock is ahead of ours (behind: below 0), or None where the date cannot be read.

    Their date was made between both moments; the middle is taken, so the error is half the time of the answer, and
    half a second.

    Args:
        date: the Date field of HTTP (RFC 9110 §6.6.1), RTSP or SIP (RFC 3261 §20.17), in GMT.
        asked_at: when the question went, by our clock.
        heard_at: when the answer came.
    """
    try:
        theirs = parsedate_to_datetime(date)
        theirs = theirs.replace(tzinfo=UTC) if theirs.tzinfo is None else theirs
        return round((theirs + _CUT_OFF - (asked_at + (heard_at - asked_at) / 2)).total_seconds())
    except (ValueError, TypeError, OverflowError, IndexError):
        return None
