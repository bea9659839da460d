"""`day`: what visitors meet through the hours of a day."""

from math import isfinite
from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.play_day import PlayedDay, play_day
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files
from doorwright.day.days import Figure, Played
from doorwright.day.design import HOURS_COUNT
from doorwright.day.interval import Estimate, Tally
from doorwright.kernel.words import counted

_EXAMPLES: Final = (
    "doorwright day tower.book",
    'doorwright day tower.book --more-at "Main entrance" --more-desks 1 --out day.svg',
)
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


@options.command(name="day", example="\n".join(_EXAMPLES))
@options.book
@click.option(
    "--days", "days_count", type=click.IntRange(2, 20_000), default=400, show_default=True,
    help="Days to play: four times as many halve the intervals.",
)  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(0, 2**63 - 1), default=1, show_default=True,
    help="Where chance starts: the same seed gives the same visitors.",
)  # fmt: skip
@click.option(
    "--more-at", multiple=True, metavar="ENTRANCE",
    help="Compare with one call unit more at this entrance. May be given several times.",
)  # fmt: skip
@click.option(
    "--more-desks", "more_desks_count", type=click.IntRange(0, 100), default=0, metavar="COUNT",
    help="Compare with so many positions more at the desk.",
)  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Draw the hours into this SVG file.")
def day(
    printer: Printer,
    book: Path,
    days_count: int,
    seed: int,
    more_at: tuple[str, ...],
    more_desks_count: int,
    out: Path | None,
) -> None:
    """Play the building's day many times over and tell what visitors meet, hour by hour.

    All rests on the habits of visitors that the site assumes (workbook, sheet of the site). Intervals hold the true
    mean of this model with 95 % confidence: they say nothing of how well the assumptions fit. A comparison plays the
    same visitors in both designs.
    """
    with options.means(printer) as means:
        made = play_day(
            book, means, days_count=days_count, seed=seed, more_at=more_at, more_desks_count=more_desks_count, out=out
        )
    printer.result(_as_json(made))
    _print(printer, made)


def _print(printer: Printer, made: PlayedDay) -> None:
    played = made.played
    figures = [column for column in _COLUMNS if played.building.desk is not None or column[0] is not Figure.DESK_WAIT]
    rows = [_row(played, f"{hour:02d}-{hour + 1:02d}", figures, hour) for hour in range(HOURS_COUNT)]
    rows.append(_row(played, "day", figures, None))
    title = f"{counted(played.visitors.shape[0], 'day')} played, revision {made.revision}, seed {made.seed}"
    printer.table(("hour", "visitors", *(words for _, words in figures)), rows, title=title)
    busiest = played.busiest_hour()
    rows = [
        (name, _told(Figure.ENTRANCE_BUSY, played.entrance_tally(name, busiest).estimate()))
        for name in played.building.entrances
    ]
    printer.table(("call unit", "held"), rows, title=f"Share of the busiest hour ({busiest:02d}-{busiest + 1:02d})")
    if made.other is not None:
        rows = [
            (
                _WORDS[figure],
                _counted(figure, played.tally(figure, hour)),
                _counted(figure, made.other.tally(figure, hour)),
                _told(figure, made.other.tally(figure, hour).less(played.tally(figure, hour)), signed=True),
                when,
            )
            for hour, when in ((busiest, "busiest hour"), (None, "day"))
            for figure in _COMPARED
        ]
        printer.table(
            ("what", "as planned", "other", "difference", "when"),
            rows,
            title=f"The same visitors with {made.other_words}",
        )
    printer.heading("Taken for granted")
    for assumption in made.assumptions:
        printer.line(f"  {assumption}")
    if made.files:
        print_files(printer, made.files)


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


def _as_json(made: PlayedDay) -> dict[str, Any]:
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
        "compared_with": _compared(made),
        "files": made.files,
    }


def _compared(made: PlayedDay) -> dict[str, Any] | None:
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


COMMAND: Final = day
