"""`rehearse`: every unit live on a virtual network, every key and number called, before anything is mounted."""

from collections import Counter
from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.rehearse_book import Rehearsed, rehearse_book
from doorwright.cli import options
from doorwright.cli.main import FINDINGS, FINE
from doorwright.cli.printer import Printer
from doorwright.kernel.words import counted
from doorwright.model.naming import name_of
from doorwright.model.place import Dwelling, Entrance
from doorwright.rehearse.faults import FAULTS
from doorwright.rehearse.observed import told_called, told_outcome, told_play

_MOST: Final = 12
_PLACES_MOST: Final = 6
_EXAMPLES: Final = (
    "doorwright rehearse tower.book",
    'doorwright rehearse tower.book --fault "wrong-secret:URU 305" --trace calls.jsonl',
)


@options.command(name="rehearse", example="\n".join(_EXAMPLES))
@options.book
@click.option(
    "--fault", "faults", multiple=True, metavar="NAME[:UNIT]",
    help=f"Put a fault in, at this unit or at one that chance picks. May be given several times. {', '.join(FAULTS)}.",
)  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(0, 2**63 - 1), default=1, show_default=True,
    help="Where chance starts: the same seed gives the same rehearsal.",
)  # fmt: skip
@click.option(
    "--delay-ms", type=click.FloatRange(0, 1000), default=1.0, show_default=True, help="Delay of the network."
)
@click.option(
    "--loss", "loss_ratio", type=click.FloatRange(0, 0.5), default=0.0, show_default=True,
    help="Share of packets that the network loses.",
)  # fmt: skip
@click.option(
    "--trace", type=click.Path(path_type=Path, dir_okay=False),
    help="Write each packet and each happening into this file, a line of JSON each.",
)  # fmt: skip
def rehearse(
    printer: Printer,
    book: Path,
    faults: tuple[str, ...],
    seed: int,
    delay_ms: float,
    loss_ratio: float,
    trace: Path | None,
) -> int:
    """Rehearse the building: every unit registers, and every key and number is called.

    Units, registrars and servers speak SIP with each other as planned, on a
    virtual network in virtual time. Each call is played in each different
    stretch of the week, and for each way that it can take: answered, no
    answer, busy, not registered. Whoever answers presses the digit of every
    door. What happens is compared with the proof of the call paths
    ("doorwright paths"). Secrets are made up; the vault is not needed, and
    the book is not changed. Exit code 1 where anything went otherwise.
    """
    with options.means(printer) as means:
        made = rehearse_book(
            book, means, faults=faults, seed=seed, delay_ms=delay_ms, loss_ratio=loss_ratio, trace=trace
        )
    printer.result(_as_json(made))
    _print(printer, made)
    return FINE if made.as_planned else FINDINGS


def _print(printer: Printer, made: Rehearsed) -> None:
    building, rehearsal = made.rehearsal.building, made.rehearsal
    for fault, ident in made.faults:
        printer.line(f"Fault put in at {_name(made, ident)}: {fault.cause}")
    registering = [actor for actor in building.actors.values() if actor.registered is not None]
    registered_count = sum(actor.registered is True for actor in registering)
    printer.heading(f"Rehearsed, revision {made.revision}")
    printer.line(f"{registered_count} of {counted(len(registering), 'unit')} registered")
    played, differing = rehearsal.played, rehearsal.differing
    printer.line(f"{counted(len(played), 'call')} played, {len(played) - len(differing)} as the proof says")
    counts = Counter(one.play.entrance for one in played)
    wrong = Counter(one.play.entrance for one in differing)
    rows = [(made.walk.get(Entrance, ident).name, str(count), str(wrong[ident])) for ident, count in counts.items()]
    printer.table(("entrance", "calls", "otherwise"), rows)
    if made.symptoms:
        printer.table(("what is seen", "where"), _seen(made), title="What is seen")
    if differing:
        printer.heading("Calls that went otherwise than the proof says")
        for one in differing[:_MOST]:
            printer.line(f"  {_name(made, one.play.unit)}, {told_play(made.walk, one.play)}")
            printer.line(f"    proved:    {told_outcome(made.walk, one.play.expected)}")
            printer.line(f"    rehearsed: {told_outcome(made.walk, one.happened)}")
        _print_more(printer, len(differing))
    if made.findings:
        printer.heading("What the rules say of the rehearsed building")
        for finding in made.findings[:_MOST]:
            printer.line(f"  {finding.severity}: {finding.message}")
        _print_more(printer, len(made.findings))
    _print_left_out(printer, made)
    if made.trace is not None:
        printer.line(f"Trace: {made.trace}")


def _print_more(printer: Printer, count: int) -> None:
    if count > _MOST:
        printer.line(f"  and {count - _MOST} more (all with --json)")


def _seen(made: Rehearsed) -> list[tuple[str, str]]:
    """Return what is seen, and the first few places where."""
    places: dict[str, list[str]] = {}
    for one in made.symptoms:
        place = _named_place(made, one.part)
        places.setdefault(one.look.value, []).append(f"{place} ({one.about})" if one.about else place)
    return [
        (
            look,
            ", ".join(where[:_PLACES_MOST]) + (f" and {len(where) - _PLACES_MOST} more" * (len(where) > _PLACES_MOST)),
        )
        for look, where in places.items()
    ]


def _named_place(made: Rehearsed, ident: str) -> str:
    dwelling = made.walk.find(Dwelling, ident)
    return f"dwelling {dwelling.door_label}" if dwelling is not None else _name(made, ident)


def _print_left_out(printer: Printer, made: Rehearsed) -> None:
    left = Counter(f"{one.kind}: {one.lacks} is missing" for one in made.left_out)
    left.update(one.why for one in made.rehearsal.not_played)
    if left:
        printer.heading("Not rehearsed")
        for why, count in left.most_common(_MOST):
            printer.line(f"  {count} x {why}")


def _name(made: Rehearsed, ident: str) -> str:
    part = made.walk.part(ident)
    return name_of(made.walk, part) if part is not None else ident


def _as_json(made: Rehearsed) -> dict[str, Any]:
    rehearsal = made.rehearsal
    put_in = [{"fault": fault.name, "cause": fault.cause, "at": _name(made, ident)} for fault, ident in made.faults]
    return {
        "revision": made.revision,
        "faults": put_in,
        "calls": len(rehearsal.played),
        "otherwise": [
            {
                "unit": _name(made, one.play.unit),
                "call": told_play(made.walk, one.play),
                "proved": told_outcome(made.walk, one.play.expected),
                "rehearsed": told_outcome(made.walk, one.happened),
            }
            for one in rehearsal.differing
        ],
        "seen": [
            {"at": _named_place(made, one.part), "what": one.look.value, "about": one.about} for one in made.symptoms
        ],
        "findings": [{"rule": one.rule, "severity": one.severity, "message": one.message} for one in made.findings],
        "not_rehearsed": [
            *({"kind": one.kind, "name": _name(made, one.id), "lacks": one.lacks} for one in made.left_out),
            *(
                {"entrance": _name(made, one.entrance), "called": told_called(made.walk, one.called), "why": one.why}
                for one in rehearsal.not_played
            ),
        ],
        "observations": [
            {
                "subject": _name(made, one.subject.id), "aspect": one.aspect, "value": one.value,
                "stage": one.stage, "seen_at": one.seen_at, "seen_by": one.seen_by,
            }
            for one in made.observations
        ],
    }  # fmt: skip


COMMAND: Final = rehearse
