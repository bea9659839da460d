"""`paths`: who rings when, and who may free which door."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Final

import click

from doorwright.app.ask_paths import Answer, Ringing, change_on, told_called
from doorwright.app.prove_paths import Proved, prove_paths
from doorwright.app.tell_paths import answers_of, as_rows, doubts_of
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.kernel.words import counted
from doorwright.model.place import Dwelling, Entrance
from doorwright.paths.dated import pieces_on, spans_on
from doorwright.paths.proof import DeskCalls, Group
from doorwright.paths.telling import labels_of, named_desk, tell_call, tell_frees, tell_spans
from doorwright.paths.week import Spans
from doorwright.render.pdf.papers.homes import dwellings_in_words

_WHO_LENGTH: Final = 90
_EXAMPLES: Final = (
    "doorwright paths tower.book",
    'doorwright paths tower.book --dwelling 305 --at "Sat 14:30"',
    'doorwright paths tower.book --entrance "Main entrance" --dwelling 305 --at "2027-03-28 02:30"',
    "doorwright paths tower.book --on 2027-12-25",
)


@options.command(name="paths", example="\n".join(_EXAMPLES))
@options.book
@click.option("--entrance", metavar="NAME", help="Calls from this entrance alone.")
@click.option("--dwelling", metavar="LABEL", help="Calls to this dwelling alone: 305, or core/305.")
@click.option("--desk", metavar="NAME", help="Calls to this desk alone.")
@click.option(
    "--at", metavar="MOMENT",
    help='What happens at a moment: "Sat 14:30", "Hol on Mon 09:00", or a date and time by the site\'s clocks.',
)  # fmt: skip
@click.option("--on", metavar="DATE", help="What happens on a date, in local time and in UTC.")
def paths(
    printer: Printer, book: Path, entrance: str | None, dwelling: str | None, desk: str | None, at: str | None,
    on: str | None,
) -> None:  # fmt: skip
    """Show whom calls ring at every moment of the week, and who may free which door.

    Dwellings that behave alike are told together. Hours are local time; Hol is
    a holiday. With a dwelling or desk and a moment, tell who rings in which
    order. A date is looked up in the site's holidays and time zone.
    """
    proved = prove_paths(book, entrance=entrance, dwelling=dwelling, desk=desk, at=at, on=on)
    answers = answers_of(proved)
    printer.result(as_rows(proved, answers))
    if proved.when is not None and proved.when.remark:
        printer.line(proved.when.remark)
    if proved.on is not None and proved.zone is not None:
        _print_day(printer, proved, proved.on)
    for one in answers:
        _print_answer(printer, one)
    if not answers and proved.on is None:
        _print_week(printer, proved)
    if proved.on is None:
        _print_doubts(printer, proved)


# whom calls are for


def _calls(proved: Proved, entrance: Entrance) -> tuple[Group | DeskCalls, ...]:
    return (*proved.groups(entrance), *proved.desks(entrance))


def _who(proved: Proved, calls: Group | DeskCalls) -> str:
    if isinstance(calls, DeskCalls):
        return f"desk {named_desk(proved.walk, calls.desk)}"
    if isinstance(proved.called, Dwelling):
        return proved.called.door_label
    count = counted(calls.dwellings_count, "dwelling")
    every = f"{count}: {dwellings_in_words(proved.walk, calls.dwellings)}"
    if len(every) <= _WHO_LENGTH:
        return every
    return f"{count}: {labels_of(proved.walk, calls.dwellings, at_most_count=6)}"


# the week


def _print_week(printer: Printer, proved: Proved) -> None:
    """Print a table an entrance; entrances at which everything is alike share one."""
    alike: dict[tuple[tuple[tuple[str, ...], ...], str, str], list[str]] = {}
    for entrance in proved.entrances:
        at = proved.proof.entrances[entrance.id]
        rows = tuple(row for calls in _calls(proved, entrance) for row in _week_rows(proved, calls))
        alike.setdefault((rows, tell_spans(at.silent), tell_spans(at.trade)), []).append(entrance.name)
    moment = f", {proved.when}" if proved.when is not None else ""
    for (rows, silent, trade), names in alike.items():
        title = f"{', '.join(names)}{moment}"
        if rows:
            printer.table(("calls to", "when", "a call", "may free"), rows, title=title)
        else:
            printer.heading(title)
            printer.line("Nobody can be called from here.")
        if silent:
            printer.line(f"No call goes through: {silent}")
        if trade:
            printer.line(f"Trade release: {trade}")


def _week_rows(proved: Proved, calls: Group | DeskCalls) -> Iterator[tuple[str, ...]]:
    behaviours = calls.heard if proved.when is None else (calls.at(proved.when.minute),)
    for number, behaviour in enumerate(behaviours):  # when the entrance is silent is told once, below
        who = "" if number else _who(proved, calls)
        when = tell_spans(calls.when([behaviour]))
        yield who, when, tell_call(proved.walk, behaviour.call), tell_frees(proved.walk, behaviour)


# one call


def _print_answer(printer: Printer, one: Answer) -> None:
    rows = [
        (
            f"{ringing.start_s} s",
            f"{ringing.end_s} s" if ringing.units else "",
            _rung(ringing),
            ringing.way,
        )
        for ringing in one.ringings
    ]
    title = f"{one.entrance.name} to {told_called(one.called)}, {one.when}"
    printer.table(("from", "until", "who rings", "comes to that"), rows, title=title)
    for who, doors in one.frees:
        printer.line(f"May free when answering: {who}: {', '.join(doors) or 'no door'}")
    if not one.frees:
        printer.line("Nobody may free a door by this call.")
    if one.trade_doors:
        printer.line(f"Trade release: the trade button frees {', '.join(one.trade_doors)}")


def _rung(ringing: Ringing) -> str:
    if not ringing.units:
        return ringing.end
    return ringing.who if ringing.units == (ringing.who,) else f"{ringing.who}: {', '.join(ringing.units)}"


# one date


def _print_day(printer: Printer, proved: Proved, on: date) -> None:
    zone = proved.zone
    if zone is None:
        return
    change = change_on(on, zone)
    printer.line(f"{on:%A} {on}, {_day_kind(proved, on)}, {zone.key}{f': {change}' if change else ''}")
    for entrance in proved.entrances:
        rows = [row for calls in _calls(proved, entrance) for row in _day_rows(proved, calls, on)]
        printer.table(("calls to", "local", "UTC", "a call", "may free"), rows, title=entrance.name)
        at = proved.proof.entrances[entrance.id]
        for what, spans in (("No call goes through", at.silent), ("Trade release", at.trade)):
            told = ", ".join(f"{local} (UTC {utc})" for local, utc in _spans_told(proved, spans, on))
            if told:
                printer.line(f"{what}: {told}")


def _day_kind(proved: Proved, on: date) -> str:
    holidays = proved.walk.settings().holidays
    words = "a holiday" if on in holidays else "no holiday"
    return f"{words}, the day after one" if on - timedelta(days=1) in holidays else words


def _day_rows(proved: Proved, calls: Group | DeskCalls, on: date) -> Iterator[tuple[str, ...]]:
    if proved.zone is None:
        return
    holidays = proved.walk.settings().holidays
    for number, piece in enumerate(pieces_on(calls.stretches, on, zone=proved.zone, holidays=holidays)):
        local, utc = _hours(proved, piece.opens, piece.closes, on)
        who = "" if number else _who(proved, calls)
        yield who, local, utc, tell_call(proved.walk, piece.behaviour.call), tell_frees(proved.walk, piece.behaviour)


def _spans_told(proved: Proved, spans: Spans, on: date) -> Iterator[tuple[str, str]]:
    if proved.zone is not None:
        for opens, closes in spans_on(spans, on, zone=proved.zone, holidays=proved.walk.settings().holidays):
            yield _hours(proved, opens, closes, on)


def _hours(proved: Proved, opens: datetime, closes: datetime, on: date) -> tuple[str, str]:
    """Return an interval in local time, with the offset where the date has several, and in UTC."""
    local = [at.astimezone(proved.zone) for at in (opens, closes)]
    changes = proved.zone is not None and bool(change_on(on, proved.zone))
    begins, ends = (f"{at:%H:%M}{_offset(at) if changes else ''}" for at in local)
    if local[1].date() > on and ends.startswith("00:00"):
        ends = f"24:00{ends[5:]}"
    apart = " to " if changes else "-"
    return f"{begins}{apart}{ends}", f"{_utc(opens, on)} to {_utc(closes, on)}"


def _offset(at: datetime) -> str:
    text = f"{at:%z}"
    return f" ({text[:3]}:{text[3:5]})"


def _utc(at: datetime, on: date) -> str:
    there = at.astimezone(UTC)
    return f"{there:%H:%M}" if there.date() == on else f"{there:%d %b %H:%M}"


# what does not hold


def _print_doubts(printer: Printer, proved: Proved) -> None:
    told = doubts_of(proved)
    if told:
        printer.heading("What does not hold")
        for doubt in told:
            printer.line(f"  {doubt}")


COMMAND: Final = paths
