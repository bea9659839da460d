"""Plan a firmware step of a book's units, and note the units that have taken it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from doorwright.app.means import Means
from doorwright.app.paper import edition_of, write_paper
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.observation import Stage, what_counts
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.firmware.jobs import Task, task_of
from doorwright.plan.firmware.pairs import Silence, silences
from doorwright.plan.firmware.record import Gap, gaps
from doorwright.plan.firmware.steps import Step, Steps, line_of, steps_to, way_back
from doorwright.plan.firmware.waves import WavePlan, plan_waves
from doorwright.render.pdf.firmware import firmware_pdf
from doorwright.store.book import Book
from doorwright.store.record import Revision

_PATIENCE: Final = 3
"""The solver counts its own work; a machine so many times slower than usual is stopped by the clock."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmwarePlan:
    """A firmware step, planned: what it does, what it waits for, the order of work, the way back.

    ``ways_back`` pairs each step with the one that leads back.
    """

    revision: Revision
    walk: Walk
    targets: Mapping[str, str]
    steps: Steps
    task: Task
    plan: WavePlan
    silences: tuple[Silence, ...]
    gaps: tuple[Gap, ...]
    ways_back: tuple[tuple[Step, Step], ...]
    files: tuple[Path, ...] = ()

    @property
    def is_safe(self) -> bool:
        """Whether the book holds everything that the step would lose, and nobody is cut off when it is done."""
        return not self.gaps and not self.plan.unreached_after


def plan_firmware(
    book_path: Path,
    targets: Sequence[str],
    means: Means,
    *,
    technicians_count: int = 1,
    effort: float = 30.0,
    back: bool = False,
    out: Path | None = None,
) -> FirmwarePlan:
    """Plan the step to the versions wanted, and write the paper where ``out`` is given. The site is not changed.

    Args:
        book_path: the book.
        targets: "PROFILE=VERSION", or "VERSION" for every type that has such a line.
        means: the world.
        technicians_count: how many people work at once.
        effort: how much the solver may work, in its own count, about seconds; 0 for fixed orders alone.
        back: whether an older version may be meant.
        out: the PDF file.

    Raises:
        Refused: a type or version is not known, the way leads back without ``back`` or where there is none, or the file
            cannot be written.
    """
    with Book.open(book_path) as book:
        revision = book.head()
        walk = Walk(book.site(revision.number))
        wanted = targets_of(walk, targets)
        steps = steps_to(walk, wanted)
        if refused := _not_back(steps.downgrades, meant=back):
            raise Refused("the step would lead back; nothing was planned", mistakes=refused)
        cleared = [step.unit for step in steps.cleared]
        missing = gaps(
            walk, cleared, sealed=frozenset(book.sealed()), seen=what_counts(book.observations(), Stage.FOUND)
        )
        means.progress("finding the order of work")
        task = task_of(walk, steps.steps, technicians_count)
        plan = plan_waves(walk, task, effort, _PATIENCE)
        ways_back = tuple((step, there) for step in steps.steps if (there := way_back(walk, step)) is not None)
        planned = FirmwarePlan(
            revision=revision,
            walk=walk,
            targets=wanted,
            steps=steps,
            task=task,
            plan=plan,
            silences=silences(walk, plan),
            gaps=missing,
            ways_back=ways_back,
        )
        return planned if out is None else _written(book, planned, out, means)


def _written(book: Book, planned: FirmwarePlan, out: Path, means: Means) -> FirmwarePlan:
    means.progress("setting the paper")
    pdf = firmware_pdf(
        walk=planned.walk,
        steps=planned.steps,
        plan=planned.plan,
        silences=planned.silences,
        gaps=planned.gaps,
        ways_back=planned.ways_back,
        unjudged=planned.task.unjudged,
        edition=edition_of(planned.revision),
    )
    write_paper(book, out, pdf, revision=planned.revision.number, at=means.now())
    return replace(planned, files=(out,))


def targets_of(walk: Walk, texts: Sequence[str]) -> dict[str, str]:
    """Return the version wanted by key of profile.

    Raises:
        Refused: no unit is of such a type, or the type has no such line; every mistake is told.
    """
    used = {unit.profile for unit in walk.all(Unit)}
    profiles = {profile.key: profile for profile in walk.settings().profiles if profile.key in used}
    found: dict[str, str] = {}
    mistakes: list[Mistake] = []
    for text in texts:
        for key, version in _meant(profiles, text, mistakes):
            if found.setdefault(key, version) != version:
                mistakes.append(_mistake(text, f"{key} is given two versions", f"Keep {found[key]} or {version}."))
    if mistakes:
        raise Refused("the firmware step is not clear; nothing was done", mistakes=tuple(mistakes))
    return found


def _meant(profiles: Mapping[str, Profile], text: str, mistakes: list[Mistake]) -> Iterator[tuple[str, str]]:
    key, given, version = (part.strip() for part in text.rpartition("="))
    if not given:
        fitting = [profile.key for profile in profiles.values() if line_of(profile, version)]
        if not fitting:
            remedy = f"Known: {_lines(profiles.values())}. A new version is a new line in the profile: import it first."
            mistakes.append(_mistake(text, "no type in use has such a version", remedy))
        yield from ((one, version) for one in fitting)
    elif key not in profiles:
        mistakes.append(
            _mistake(text, f"no unit is of a type {key!r}", f"Types in use: {', '.join(sorted(profiles))}.")
        )
    elif line_of(profiles[key], version) is None:
        remedy = f"Known: {_lines([profiles[key]])}. A new version is a new line in the profile: import it first."
        mistakes.append(_mistake(text, f"the type {key} has no version {version!r}", remedy))
    else:
        yield key, version


def _lines(profiles: Iterable[Profile]) -> str:
    return "; ".join(
        f"{profile.key} {', '.join(line.version for line in profile.firmware)}"
        for profile in profiles
        if profile.firmware
    )


def _mistake(text: str, problem: str, remedy: str) -> Mistake:
    return Mistake(where="--to", read=text, problem=problem, remedy=remedy)


def _not_back(steps: tuple[Step, ...], *, meant: bool) -> tuple[Mistake, ...]:
    """Return what keeps units from an older version: that no way leads back, or that nobody said it is meant."""
    mistakes = []
    for profile, here, there, one_way in sorted(
        {(one.unit.profile, one.version_from, one.version_to, one.one_way_versions) for one in steps}
    ):
        if one_way:
            problem = f"no way leads back from {', '.join(one_way)}: so its profile says (may_go_back)"
            remedy = "Name only types that can go back: --to PROFILE=VERSION."
        elif not meant:
            problem = "this leads back to an older version"
            remedy = "Give --back if it is meant, and ask the maker first whether the type allows it."
        else:
            continue
        mistakes.append(Mistake(where=profile, read=f"{here} to {there}", problem=problem, remedy=remedy))
    return tuple(mistakes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """Units whose firmware was noted, and the revision that holds it."""

    revision: int
    version: str
    units: tuple[str, ...]


def note_done(book_path: Path, names: Sequence[str], version: str, means: Means) -> Noted:
    """Note in one revision that units have this firmware.

    Args:
        book_path: the book.
        names: names of units; several may stand in one text, with commas between them.
        version: a firmware line of each unit's profile.
        means: the world.

    Raises:
        Refused: a name is not a unit's, or is several units', or a unit's type has no such version; every mistake is
            told, and nothing is changed.
    """
    with Book.open(book_path) as book:
        parent = book.head().number
        site = book.site(parent)
        walk = Walk(site)
        units, mistakes = _units_named(walk, names)
        mistakes += [
            Mistake(
                where=unit.name,
                read=version,
                problem=f"its type {unit.profile} has no such version",
                remedy=f"Known: {_lines([profile]) or 'none'}." if profile else "Its profile is not in the book.",
            )
            for unit in units
            if (profile := walk.profile(unit.profile)) is None or line_of(profile, version) is None
        ]
        if mistakes:
            raise Refused("no firmware was noted", mistakes=tuple(mistakes))
        idents = {unit.id for unit in units}
        table = tuple(replace(unit, firmware=version) if unit.id in idents else unit for unit in site.units)
        head = book.save(
            site.with_tables({Unit: table}),
            parent=parent,
            by=means.who,
            at=means.now(),
            message=f"firmware {version} on {len(units)} {'unit' if len(units) == 1 else 'units'}",
        )
    return Noted(revision=head.number, version=version, units=tuple(unit.name for unit in units))


def named_units(walk: Walk, names: Sequence[str]) -> tuple[Unit, ...]:
    """Return the units of these names, each once.

    Raises:
        Refused: a name is not a unit's, or is several units'; every mistake is told.
    """
    units, mistakes = _units_named(walk, names)
    if mistakes:
        raise Refused("the units are not clear; nothing was done", mistakes=tuple(mistakes))
    return tuple(units)


def _units_named(walk: Walk, names: Sequence[str]) -> tuple[list[Unit], list[Mistake]]:
    units: dict[str, Unit] = {}
    mistakes: list[Mistake] = []
    for name in _apart(walk, names):
        found = walk.units_named(name)
        if len(found) == 1:
            units[found[0].id] = found[0]
            continue
        problem = f"{len(found)} units have this name" if found else "there is no unit of this name"
        remedy = "Give them names of their own first." if found else "Names are in: doorwright show BOOK units"
        mistakes.append(Mistake(where="unit", read=name, problem=problem, remedy=remedy))
    return list(units.values()), mistakes


def _apart(walk: Walk, names: Sequence[str]) -> Iterator[str]:
    for text in names:
        if walk.units_named(text.strip()):  # a name may hold a comma itself
            yield text.strip()
        else:
            yield from (name for part in text.split(",") if (name := part.strip()))
