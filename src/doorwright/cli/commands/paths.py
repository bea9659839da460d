"""`paths`: who rings when, and who may free which door."""

from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.prove_paths import Proved, prove_paths
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.kernel.words import counted
from doorwright.model.calling import DAY_MIN
from doorwright.model.door import Door
from doorwright.model.naming import named
from doorwright.model.place import Dwelling, Entrance
from doorwright.paths.call import Behaviour
from doorwright.paths.proof import Group
from doorwright.paths.telling import clock, labels_of, tell_call, tell_frees, tell_spans, tell_target
from doorwright.paths.week import day_name


@options.command(
    name="paths",
    example='doorwright paths tower.book\ndoorwright paths tower.book --dwelling 305 --at "Sat 14:30"',
)
@options.book
@click.option("--entrance", metavar="NAME", help="Calls from this entrance alone.")
@click.option("--dwelling", metavar="LABEL", help="Calls to this dwelling alone.")
@click.option("--at", metavar="MOMENT", help='What happens at a moment: "Sat 14:30", or "Hol on Mon 09:00".')
def paths(printer: Printer, book: Path, entrance: str | None, dwelling: str | None, at: str | None) -> None:
    """Show whom calls ring at every moment of the week, and who may free which door.

    Dwellings that behave alike are told together. Hours are local time; Hol is a holiday.
    """
    proved = prove_paths(book, entrance=entrance, dwelling=dwelling, at=at)
    printer.result(_as_rows(proved))
    for one in proved.entrances:
        _print_entrance(printer, proved, one)
    _print_doubts(printer, proved)


def _groups(proved: Proved, entrance: Entrance) -> tuple[Group, ...]:
    at = proved.proof.entrances[entrance.id]
    return at.groups if proved.dwelling is None else (at.group_of(proved.dwelling.id),)


def _when(group: Group, behaviour: Behaviour) -> str:
    return tell_spans(group.when([behaviour]))


def _behaviours(proved: Proved, group: Group) -> tuple[Behaviour, ...]:
    return group.behaviours if proved.minute is None else (group.at(proved.minute),)


def _who(proved: Proved, group: Group) -> str:
    if proved.dwelling is not None:
        return proved.dwelling.door_label
    return f"{counted(group.dwellings_count, 'dwelling')}: {labels_of(proved.walk, group.dwellings, at_most_count=6)}"


def _print_entrance(printer: Printer, proved: Proved, entrance: Entrance) -> None:
    rows = [
        (_who(proved, group), _when(group, one), tell_call(proved.walk, one.call), tell_frees(proved.walk, one))
        for group in _groups(proved, entrance)
        for one in _behaviours(proved, group)
    ]
    moment = f", {_told(proved.minute)}" if proved.minute is not None else ""
    printer.table(("dwellings", "when", "a call", "may free"), rows, title=f"{entrance.name}{moment}")
    at = proved.proof.entrances[entrance.id]
    if at.silent:
        printer.line(f"No call goes through: {tell_spans(at.silent)}")
    if at.trade:
        printer.line(f"Trade release: {tell_spans(at.trade)}")


def _told(minute: int) -> str:
    return f"{day_name(minute // DAY_MIN)} {clock(minute % DAY_MIN)}"


def _print_doubts(printer: Printer, proved: Proved) -> None:
    doubts = _doubts(proved)
    if doubts:
        printer.heading("What does not hold")
        for doubt in doubts:
            printer.line(f"  {doubt}")


def _doubts(proved: Proved) -> list[str]:
    """Return what the proof finds wrong, at the entrances and for the dwelling asked about."""
    walk, shown = proved.walk, {entrance.id: entrance.name for entrance in proved.entrances}

    def concerns(dwellings: tuple[str, ...]) -> bool:
        return proved.dwelling is None or proved.dwelling.id in dwellings

    told = [
        f"calls from {shown[one.entrance]} to {labels_of(walk, one.dwellings)}: {one.end.value}"
        f" ({', '.join(tell_target(walk, target) for target in one.chain)}), {tell_spans(one.spans)}"
        for one in proved.proof.rounds
        if one.entrance in shown and concerns(one.dwellings)
    ]
    told += [
        f"calls from {shown[one.entrance]} to {labels_of(walk, one.dwellings)} ring nobody"
        f" {tell_spans(one.spans) if one.ever else 'ever'}"
        for one in proved.proof.unreached
        if one.entrance in shown and concerns(one.dwellings)
    ]
    doors = [walk.get(Door, ident) for ident in proved.proof.freed_by_nobody]
    told += [f"nobody who answers may free {named(walk, door)}" for door in doors if door.entrance in shown]
    for ident, target in proved.proof.freed_by_strangers:
        door = walk.get(Door, ident)
        if door.entrance in shown:
            told.append(f"{tell_target(walk, target)} may free {named(walk, door)}, whose entrance does not serve it")
    return told


def _as_rows(proved: Proved) -> dict[str, Any]:
    walk = proved.walk
    return {
        "revision": proved.revision,
        "at": None if proved.minute is None else _told(proved.minute),
        "entrances": [
            {
                "entrance": entrance.name,
                "silent": tell_spans(proved.proof.entrances[entrance.id].silent),
                "trade_release": tell_spans(proved.proof.entrances[entrance.id].trade),
                "groups": [_group_as_rows(proved, group) for group in _groups(proved, entrance)],
            }
            for entrance in proved.entrances
        ],
        "doubts": _doubts(proved),
        "time_zone": walk.settings().time_zone,
    }


def _group_as_rows(proved: Proved, group: Group) -> dict[str, Any]:
    walk = proved.walk
    dwellings = group.dwellings if proved.dwelling is None else (proved.dwelling.id,)
    return {
        "dwellings": [walk.get(Dwelling, ident).door_label for ident in dwellings],
        "behaviours": [
            {"when": _when(group, one), "call": tell_call(walk, one.call), "may_free": tell_frees(walk, one)}
            for one in _behaviours(proved, group)
        ],
        "stretches": [
            {
                "from": _told(stretch.start_min),
                "minutes": stretch.end_min - stretch.start_min,
                "call": tell_call(walk, stretch.behaviour.call),
            }
            for stretch in group.stretches
            if proved.minute is None or stretch.start_min <= proved.minute < stretch.end_min
        ],
    }


COMMAND: Final = paths
