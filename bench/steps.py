"""The steps of the work on one site, each made ready first and then timed alone.

``lay_out`` writes what all steps need into the folder of a site. A step takes that folder and returns the calls to be
timed.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from functools import partial
from itertools import count
from pathlib import Path
from secrets import randbelow
from typing import Final, TypeAlias

from pydantic_core import from_json, to_json

from bench.hours import busy_site
from bench.sites import write_workbook
from doorwright.model.change import Set
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.plan.edits.edit import Edit
from doorwright.plan.edits.replacing import replace_unit
from doorwright.plan.plan import plan_site
from doorwright.plan.touch import touch_list
from doorwright.rules.catalogue import RULES
from doorwright.rules.judge import Watch, judge
from doorwright.rules.rule import Facts
from doorwright.store import codec
from doorwright.store.book import Book
from doorwright.store.profiles import load_profiles
from doorwright.store.workbook.reader import read_workbook

Call: TypeAlias = Callable[[], object]

WORKBOOK: Final = "site.xlsx"
READ: Final = "read.json"
PLANNED: Final = "planned.json"
SECRETS: Final = "secrets.json"
EDITS_COUNT: Final = 15

_TODAY: Final = date(2026, 3, 2)
_NOW: Final = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def lay_out(folder: Path, dwellings_count: int) -> None:
    """Write the workbook of an invented site, and the site as it is read and as it is planned."""
    write_workbook(folder / WORKBOOK, dwellings_count)
    site = _import(folder)
    planned = plan_site(site, new_id=_ids("p"), choose=randbelow)
    (folder / READ).write_bytes(codec.dump(site))
    (folder / PLANNED).write_bytes(codec.dump(planned.site))
    (folder / SECRETS).write_bytes(to_json(dict(planned.secrets)))


def _import(folder: Path) -> Site:
    reading = read_workbook(folder / WORKBOOK, before=None, profiles=load_profiles(), new_id=_ids("r"))
    if reading.mistakes:
        raise ValueError(f"the invented workbook is wrong: {reading.mistakes[0]}")
    return reading.site


def _ids(prefix: str) -> Callable[[], str]:
    numbers = count()
    return lambda: f"{prefix}{next(numbers):07d}"


def import_(folder: Path) -> list[Call]:
    """Read the workbook."""
    load_profiles()
    return [lambda: _import(folder)]


def plan(folder: Path) -> list[Call]:
    """Plan the site as it was read, secrets and all."""
    site = codec.load((folder / READ).read_bytes())
    return [lambda: plan_site(site, new_id=_ids("p"), choose=randbelow)]


def check(folder: Path) -> list[Call]:
    """Judge the planned site by every rule."""
    facts = _facts(folder)
    return [lambda: judge(replace(facts, walk=Walk(facts.walk.site)), RULES)]


def _facts(folder: Path) -> Facts:
    site = codec.load((folder / PLANNED).read_bytes())
    return Facts(Walk(site), from_json((folder / SECRETS).read_bytes()), _TODAY)


def save(folder: Path) -> list[Call]:
    """Save the plan as a revision of a book."""
    site = codec.load((folder / READ).read_bytes())
    planned = codec.load((folder / PLANNED).read_bytes())
    path = folder / "site.book"
    path.unlink(missing_ok=True)
    book = Book.create(path, site, by="bench", at=_NOW, message="read")
    return [lambda: book.save(planned, parent=1, by="bench", at=_NOW, message="planned")]


def round_trip(folder: Path) -> list[Call]:
    """Load the document of the planned site and dump it again: the yardstick."""
    document = (folder / PLANNED).read_bytes()
    codec.dump(codec.load(document))  # the first time also builds the reader: that is no part of the yardstick
    return [lambda: codec.dump(codec.load(document))]


def change_call_number(folder: Path) -> list[Call]:
    """Give a dwelling another call number and check again what that touches."""
    watch, site = _watch(folder)
    dwellings = site.dwellings[:: max(1, len(site.dwellings) // EDITS_COUNT)]
    return [
        _edit(watch, Set(Dwelling.KIND, dwelling.id, "call_number", dwelling.call_number, f"9{number:07d}"))
        for number, dwelling in enumerate(dwellings)
    ]


def change_address(folder: Path) -> list[Call]:
    """Give a receiver another address and check again what that touches."""
    watch, site = _watch(folder)
    urus = [unit for unit in site.units if unit.kind is UnitKind.URU]
    return [
        _edit(watch, Set(Unit.KIND, uru.id, "address", uru.address, f"10.0.254.{number}"))
        for number, uru in enumerate(urus[:: max(1, len(urus) // EDITS_COUNT)], start=1)
    ]


def change_hub(folder: Path) -> list[Call]:
    """Give the SIP server, which everything registers with, another address and check again what that touches."""
    watch, site = _watch(folder)
    (server,) = site.servers
    return [_edit(watch, Set(SipServer.KIND, server.id, "address", server.address, "10.1.15.2"))]


def touch_replacement(folder: Path) -> list[Call]:
    """Exchange a receiver and work out which units must be visited, from a walk that was asked before."""
    walk = _facts(folder).walk
    urus = [unit for unit in walk.site.units if unit.kind is UnitKind.URU]
    chosen = urus[:: max(1, len(urus) // EDITS_COUNT)]
    edits = [replace_unit(walk, uru.name, serial=f"Z{at:08d}", profiles={}) for at, uru in enumerate(chosen)]
    _touch(walk, edits[0])
    return [partial(_touch, walk, edit) for edit in edits]


def _touch(walk: Walk, edit: Edit) -> None:
    if not touch_list(walk, walk.after(edit.changes), edit.changes):
        raise ValueError("an exchanged receiver must be visited")


def prove_paths(folder: Path) -> list[Call]:
    """Prove the call paths of all dwellings at 40 entrances with hours, diverts and rights."""
    site = busy_site(codec.load((folder / PLANNED).read_bytes()))
    return [lambda: prove(Walk(site))]


def _watch(folder: Path) -> tuple[Watch, Site]:
    facts = _facts(folder)
    return Watch(facts, RULES), facts.walk.site


def _edit(watch: Watch, change: Set) -> Call:
    return lambda: watch.change((change,))
