"""What days of a building gave, in words and figures: hour by hour, at the call units, and beside another design."""

from dataclasses import dataclass
from math import isfinite
from typing import Any, Final

from doorwright.app.play_day import PlayedDay
from doorwright.day.days import Figure, Played
from doorwright.day.design import HOURS_COUNT
from doorwright.day.interval import Estimate, Tally
from doorwright.kernel.words import counted

_COLUMNS: Final[tuple[tuple[Figure, str], ...]] = (
    (Figure.FOUND_TAKEN, "found taken"),
    (Figure.LINE_WAIT, "wait in line"),
    (Figure.UNANSWERED, "unanswered"),
    (Figure.GONE, "served by nobody"),
    (Figure.DESK_WAIT, "wait for desk"),
)
_WORDS: Final = dict(_COLUMNS) | {Figure.DESK_LEFT: "gave the desk up"}
_COMPARED: Final[tuple[Figure, ...]] = (
    Figure.FOUND_TAKEN,
    Figure.LINE_WAIT,
    Figure.GONE,
    Figure.DESK_WAIT,
    Figure.DESK_LEFT,
)
_WHOLE_DAY: Final = tuple(Figure)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table in words: its title, its headings, and its rows of cells."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def tables_of(made: PlayedDay) -> tuple[Table, ...]:
    """Return the hours, the share of time that call units are held, and what another design would give."""
    return (_hours(made), _held(made), *_compared(made))


def _hours(made: PlayedDay) -> Table:
    played = made.played
    figures = [column for column in _COLUMNS if played.building.desk is not None or column[0] is not Figure.DESK_WAIT]
    rows = [_row(played, f"{hour:02d}-{hour + 1:02d}", figures, hour) for hour in range(HOURS_COUNT)]
    rows.append(_row(played, "day", figures, None))
    return Table(
        title=f"{counted(played.days_count, 'day')} played, revision {made.revision}, seed {made.seed}",
        headings=("hour", "visitors", *(words for _, words in figures)),
        rows=tuple(rows),
    )


def _held(made: PlayedDay) -> Table:
    played, busiest = made.played, made.played.busiest_hour()
    return Table(
        title=f"Share of the busiest hour ({busiest:02d}-{busiest + 1:02d})",
        headings=("call unit", "held"),
        rows=tuple(
            (name, _told(Figure.ENTRANCE_BUSY, played.entrance_tally(name, busiest).estimate()))
            for name in played.building.entrances
        ),
    )


def _compared(made: PlayedDay) -> tuple[Table, ...]:
    played, other = made.played, made.other
    if other is None:
        return ()
    rows = tuple(
        (
            _WORDS[figure],
            _counted(figure, played.tally(figure, hour)),
            _counted(figure, other.tally(figure, hour)),
            _told(figure, other.tally(figure, hour).less(played.tally(figure, hour)), signed=True),
            when,
        )
        for hour, when in ((played.busiest_hour(), "busiest hour"), (None, "day"))
        for figure in _COMPARED
    )
    headings = ("what", "as planned", "other", "difference", "when")
    return (Table(title=f"The same visitors with {made.other_words}", headings=headings, rows=rows),)


def _row(played: Played, name: str, figures: list[tuple[Figure, str]], hour: int | None) -> tuple[str, ...]:
    visitors = played.visitors_a_day(hour).estimate()
    cells = (_counted(figure, played.tally(figure, hour)) for figure, _ in figures)
    return (name, f"{visitors.mean:.1f} ± {visitors.half:.1f}", *cells)


def _counted(figure: Figure, tally: Tally) -> str:
    """Return a figure with half its interval; a share of which no case was seen says so: it has no scatter to tell."""
    if figure.value.endswith("_ratio") and tally.of.sum() > 0.0 and not tally.counted.sum() > 0.0:
        return f"none of {tally.of.sum():.0f}"
    return _told(figure, tally.estimate())


def _told(figure: Figure, estimate: Estimate, *, signed: bool = False) -> str:
    """Return a mean with half its interval: a share in per cent, a time in seconds."""
    if not isfinite(estimate.mean):
        return "–"
    scale, unit = (1.0, "s") if figure.value.endswith("_s") else (100.0, "%")
    half = f" ± {scale * estimate.half:.1f}" if isfinite(estimate.half) else ""
    mean = f"{scale * estimate.mean:+.1f}" if signed else f"{scale * estimate.mean:.1f}"
    return f"{mean}{half} {unit}"


def figures_of(made: PlayedDay) -> dict[str, Any]:
    """Return every figure with its interval, for programs."""
    return {
        "revision": made.revision,
        "days": int(made.played.visitors.shape[0]),
        "seed": made.seed,
        "assumptions": made.assumptions,
        "busiest_hour": made.played.busiest_hour(),
        "hours": [_figures(made.played, hour) for hour in range(HOURS_COUNT)],
        "day": _figures(made.played, None),
        "call_units": {
            name: _interval(made.played.entrance_tally(name, made.played.busiest_hour()).estimate())
            for name in made.played.building.entrances
        },
        "compared_with": _beside(made),
        "files": made.files,
    }


def _beside(made: PlayedDay) -> dict[str, Any] | None:
    if made.other is None:
        return None
    busiest = made.played.busiest_hour()
    return {
        "design": made.other_words,
        "day": _figures(made.other, None),
        "difference": {
            when: {
                figure.value: _interval(made.other.tally(figure, hour).less(made.played.tally(figure, hour)))
                for figure in _WHOLE_DAY
            }
            for when, hour in (("busiest_hour", busiest), ("day", None))
        },
    }


def _figures(played: Played, hour: int | None) -> dict[str, Any]:
    told = {figure.value: _interval(played.tally(figure, hour).estimate()) for figure in _WHOLE_DAY}
    return {"visitors": _interval(played.visitors_a_day(hour).estimate())} | told


def _interval(estimate: Estimate) -> dict[str, float | None] | None:
    """Return a mean with its interval, None where there was nothing to count."""
    if not isfinite(estimate.mean):
        return None
    bounds = {"low": estimate.low, "high": estimate.high}
    return {"mean": estimate.mean} | {name: at if isfinite(at) else None for name, at in bounds.items()}
