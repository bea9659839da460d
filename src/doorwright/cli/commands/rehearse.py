"""`rehearse`: every unit live on a virtual network, every key and number called, before anything is mounted."""

import os
from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.conditions import Conditions
from doorwright.app.draw_call import WrittenCall, write_ladders
from doorwright.app.rehearse_book import Rehearsed, rehearse_book
from doorwright.app.tell_rehearsal import (
    entrance_lines,
    left_counts,
    name_in,
    place_in,
    registered_counts,
    seen_lines,
)
from doorwright.cli import options
from doorwright.cli.main import FINDINGS, FINE
from doorwright.cli.printer import Printer
from doorwright.cli.wired import Given, rehearse_wired, see_fitting, wire_options
from doorwright.kernel.words import counted
from doorwright.rehearse.faults import FAULTS
from doorwright.rehearse.observed import told_called, told_outcome, told_play
from doorwright.rehearse.outage import told_outage

_MOST: Final = 12
_PLACES_MOST: Final = 6
_USUAL: Final = Conditions()
_EXAMPLES: Final = (
    "doorwright rehearse tower.book",
    'doorwright rehearse tower.book --fault "wrong-secret:URU 305" --trace calls.jsonl',
    'doorwright rehearse tower.book --wire --call "VCU 1:305" --for 60',
    'doorwright rehearse tower.book --ladder "VCU 1:305, Sat 14:30, no answer" --out ladders',
)


@options.command(name="rehearse", example="\n".join(_EXAMPLES))
@options.book
@click.option(
    "--fault", "faults", multiple=True, metavar="NAME[:UNIT]",
    help=f"Put a fault in, at this unit or at one that chance picks. May be given several times. {', '.join(FAULTS)}.",
)  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(0, 2**63 - 1), default=_USUAL.seed, show_default=True,
    help="Where chance starts: the same seed gives the same rehearsal.",
)  # fmt: skip
@click.option(
    "--delay-ms",
    type=click.FloatRange(0, 1000),
    default=_USUAL.delay_ms,
    show_default=True,
    help="Delay of the network.",
)
@click.option(
    "--loss", "loss_ratio", type=click.FloatRange(0, 0.5), default=_USUAL.loss_ratio, show_default=True,
    help="Share of packets that the network loses.",
)  # fmt: skip
@click.option(
    "--power-cut", "power_cut_min", type=click.FloatRange(1, 10_080), metavar="MINUTES",
    help="Let the mains fail for so many minutes before anybody calls: who stays up, who is back, when.",
)  # fmt: skip
@click.option(
    "--workers", "workers_count", type=click.IntRange(1, 256), default=lambda: os.cpu_count() or 1,
    show_default="one for each processor",
    help="Processes that share a long rehearsal. What comes out is the same; with a trace there is one alone.",
)  # fmt: skip
@click.option(
    "--keep/--no-keep", default=None,
    help="Keep in the book what was seen. Default: keep it where no faults were put in.",
)  # fmt: skip
@click.option(
    "--trace", type=click.Path(path_type=Path, dir_okay=False),
    help="Write each packet and each happening into this file, a line of JSON each.",
)  # fmt: skip
@click.option(
    "--pcap", type=click.Path(path_type=Path, dir_okay=False),
    help="Write the packets into this file (pcapng), for programs that show what is on a network.",
)  # fmt: skip
@click.option(
    "--ladder", "ladders", multiple=True, metavar="UNIT:CALLED[, DAY HH:MM][, WAY]",
    help="Draw this call: who sends what to whom. CALLED is a key, a number or who is wanted, WAY such as "
    '"no answer". May be given several times.',
)  # fmt: skip
@click.option(
    "--out", type=click.Path(path_type=Path, file_okay=False),
    help="Folder for what is drawn with --ladder: drawings (SVG), and the packets of each call (pcapng). Default: "
    "BOOK-ladders.",
)  # fmt: skip
@wire_options
@options.by
def rehearse(
    printer: Printer,
    book: Path,
    faults: tuple[str, ...],
    seed: int,
    delay_ms: float,
    loss_ratio: float,
    trace: Path | None,
    pcap: Path | None,
    ladders: tuple[str, ...],
    out: Path | None,
    by: str | None,
    *,
    power_cut_min: float | None,
    workers_count: int,
    keep: bool | None,
    wired: Given,
) -> int:
    """Rehearse the building: every unit registers, and every key and number is called.

    Units, registrars and servers speak SIP with each other as planned, on a
    virtual network in virtual time. Each call is played in each different
    stretch of the week, and for each way that it can take: answered, no
    answer, busy, not registered. Whoever answers presses the digit of every
    door. What happens is compared with the proof of the call paths
    ("doorwright paths"). Secrets are made up; the vault is not needed. The
    book keeps what was seen, in place of the rehearsal before; the plan is
    not changed. With faults put in nothing is kept, unless --keep is given.
    Exit code 1 where anything went otherwise.

    With --wire the same units live on loopback addresses of this machine, in
    real time, and whoever is at home answers. Then nothing is kept.
    """
    see_fitting(wired)
    if wired.wire:
        return rehearse_wired(printer, book, wired, faults=faults, seed=seed, by=by)
    conditions = Conditions(
        faults=faults, seed=seed, delay_ms=delay_ms, loss_ratio=loss_ratio, power_cut_min=power_cut_min
    )
    with options.means(printer, by) as means:
        drawn = write_ladders(book, ladders, out, conditions)
        made = rehearse_book(
            book, means, conditions, workers_count=workers_count, keep=keep, trace=trace, pcap=pcap
        )  # fmt: skip
    printer.result({**_as_json(made), "ladders": [_ladder_as_json(one) for one in drawn]})
    _print(printer, made)
    _print_ladders(printer, drawn)
    return FINE if made.as_planned else FINDINGS


def _print(printer: Printer, made: Rehearsed) -> None:
    building, rehearsal = made.rehearsal.building, made.rehearsal
    for fault, ident in made.faults:
        printer.line(f"Fault put in at {name_in(made, ident)}: {fault.cause}")
    registered_count, registering_count = registered_counts(made)
    printer.heading(f"Rehearsed, revision {made.revision}")
    printer.line(f"{registered_count} of {counted(registering_count, 'unit')} registered")
    played, differing = rehearsal.played, rehearsal.differing
    printer.line(f"{counted(len(played), 'call')} played, {len(played) - len(differing)} as the proof says")
    rows = [(one.entrance, str(one.calls_count), str(one.otherwise_count)) for one in entrance_lines(made)]
    printer.table(("entrance", "calls", "otherwise"), rows)
    if building.outage is not None:
        printer.line(told_outage(building.outage))
    if made.symptoms:
        printer.table(
            ("what is seen", "where"), [(one.what, _where(one.where)) for one in seen_lines(made)], title="What is seen"
        )
    if differing:
        printer.heading("Calls that went otherwise than the proof says")
        for one in differing[:_MOST]:
            printer.line(f"  {name_in(made, one.play.unit)}, {told_play(made.walk, one.play)}")
            printer.line(f"    proved:    {told_outcome(made.walk, one.play.expected)}")
            printer.line(f"    rehearsed: {told_outcome(made.walk, one.happened)}")
        _print_more(printer, len(differing))
    if made.findings:
        printer.heading("What the rules say of the rehearsed building")
        for finding in made.findings[:_MOST]:
            printer.line(f"  {finding.severity}: {finding.message}")
        _print_more(printer, len(made.findings))
    _print_left_out(printer, made)
    _print_kept(printer, made)
    if made.trace is not None:
        printer.line(f"Trace: {made.trace}")
    if made.pcap is not None:
        printer.line(f"Packets: {made.pcap}")


def _print_ladders(printer: Printer, drawn: tuple[WrittenCall, ...]) -> None:
    for one in drawn:
        call = one.drawn
        printer.heading(f"Ladder: {call.told}")
        printer.line(f"  proved:    {call.proved}")
        printer.line(f"  rehearsed: {call.rehearsed}")
        for path in one.files:
            printer.line(f"  {path}")


def _ladder_as_json(one: WrittenCall) -> dict[str, Any]:
    call = one.drawn
    return {
        "call": call.text,
        "proved": call.proved,
        "rehearsed": call.rehearsed,
        "as_proved": call.as_proved,
        "files": [str(path) for path in one.files],
    }


def _print_kept(printer: Printer, made: Rehearsed) -> None:
    if made.kept is None:
        why = "faults were put in, --keep keeps it all the same" if made.faults else "as you said"
        printer.line(f"Not kept in the book: {why}.")
        return
    printer.line(f"Kept in the book as its latest rehearsal, with {counted(made.kept.new_count, 'new observation')}.")
    if made.kept.revision != made.revision:
        printer.line(f"Rehearsed at revision {made.revision}; the plan is at {made.kept.revision} by now.")


def _print_more(printer: Printer, count: int) -> None:
    if count > _MOST:
        printer.line(f"  and {count - _MOST} more (all with --json)")


def _where(where: tuple[str, ...]) -> str:
    """Return the first few places."""
    more = len(where) - _PLACES_MOST
    return ", ".join(where[:_PLACES_MOST]) + (f" and {more} more" if more > 0 else "")


def _print_left_out(printer: Printer, made: Rehearsed) -> None:
    left = left_counts(made)
    if left:
        printer.heading("Not rehearsed")
        for why, count in left[:_MOST]:
            printer.line(f"  {count} x {why}")


def _as_json(made: Rehearsed) -> dict[str, Any]:
    rehearsal = made.rehearsal
    put_in = [{"fault": fault.name, "cause": fault.cause, "at": name_in(made, ident)} for fault, ident in made.faults]
    return {
        "revision": made.revision,
        "kept": None if made.kept is None else {"new": made.kept.new_count},
        "faults": put_in,
        "calls": len(rehearsal.played),
        "otherwise": [
            {
                "unit": name_in(made, one.play.unit),
                "call": told_play(made.walk, one.play),
                "proved": told_outcome(made.walk, one.play.expected),
                "rehearsed": told_outcome(made.walk, one.happened),
            }
            for one in rehearsal.differing
        ],
        "seen": [
            {"at": place_in(made, one.part), "what": one.look.value, "about": one.about} for one in made.symptoms
        ],
        "findings": [{"rule": one.rule, "severity": one.severity, "message": one.message} for one in made.findings],
        "not_rehearsed": [
            *({"kind": one.kind, "name": name_in(made, one.id), "lacks": one.lacks} for one in made.left_out),
            *(
                {"entrance": name_in(made, one.entrance), "called": told_called(made.walk, one.called), "why": one.why}
                for one in rehearsal.not_played
            ),
        ],
        "observations": [
            {
                "subject": name_in(made, one.subject.id), "aspect": one.aspect, "value": one.value,
                "stage": one.stage, "seen_at": one.seen_at, "seen_by": one.seen_by,
            }
            for one in made.observations
        ],
    }  # fmt: skip


COMMAND: Final = rehearse
