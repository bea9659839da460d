"""Which units take a firmware step, and what it does to each: the lines it passes, what they clear, the generations."""

from collections.abc import Mapping
from dataclasses import dataclass

from doorwright.model.profile import FirmwareLine, Profile
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One unit's way from its present version to another.

    ``lines`` are the lines passed, in the order in which they are passed; on the way back they are the lines that are
    left. The unit is cleared if any of them clears. ``load_s`` counts each of them with its restart: each is loaded in
    turn.
    """

    unit: Unit
    version_from: str
    version_to: str
    lines: tuple[FirmwareLine, ...]
    back: bool
    generation_before: int
    generation_after: int
    load_s: float
    settle_s: float

    @property
    def clears(self) -> bool:
        """Whether the unit comes out without its settings."""
        return not all(line.keeps_settings for line in self.lines)

    @property
    def clearing_versions(self) -> tuple[str, ...]:
        """The versions at which settings are lost."""
        return tuple(line.version for line in self.lines if not line.keeps_settings)

    @property
    def one_way_versions(self) -> tuple[str, ...]:
        """The versions passed from which a unit takes no older one: a step forward over them has no way back."""
        return tuple(line.version for line in self.lines if line.may_go_back is False)

    @property
    def back_not_told(self) -> bool:
        """Whether the profile says nothing of the way back over one of the versions, and bars none."""
        return not self.one_way_versions and any(line.may_go_back is None for line in self.lines)

    @property
    def tool_notes(self) -> tuple[str, ...]:
        """What the maker's own program must be, for each line that says so."""
        return tuple(dict.fromkeys(line.tool_note for line in self.lines if line.tool_note))

    @property
    def crosses(self) -> bool:
        """Whether the pairing generation changes."""
        return self.generation_before != self.generation_after


@dataclass(frozen=True, slots=True)
class Untold:
    """A unit that is asked to step, but of which nobody can say what the step does."""

    unit: Unit
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """The units of the types asked for: those that step, those that stand there already, those nobody can tell of."""

    steps: tuple[Step, ...]
    already: tuple[Unit, ...]
    untold: tuple[Untold, ...]

    @property
    def downgrades(self) -> tuple[Step, ...]:
        """Steps that lead to an older line."""
        return tuple(step for step in self.steps if step.back)

    @property
    def without_return(self) -> tuple[Step, ...]:
        """Steps forward after which a unit never takes its present version again."""
        return tuple(step for step in self.steps if not step.back and step.one_way_versions)

    @property
    def cleared(self) -> tuple[Step, ...]:
        """Steps after which a unit must be set up again."""
        return tuple(step for step in self.steps if step.clears)


def steps_to(walk: Walk, targets: Mapping[str, str]) -> Steps:
    """Return what becomes of every unit whose type is given a version.

    Args:
        walk: the way around the site.
        targets: the version wanted, by key of profile; each must be a line of that profile.

    Raises:
        LookupError: a profile is not in the site, or has no such line.
    """
    steps: list[Step] = []
    already: list[Unit] = []
    untold: list[Untold] = []
    for unit in WalkingOrder(walk).units(unit for unit in walk.all(Unit) if unit.profile in targets):
        profile, target = walk.profile(unit.profile), targets[unit.profile]
        if profile is None or line_of(profile, target) is None:
            raise LookupError(f"no line {target!r} in profile {unit.profile!r}")
        if unit.firmware is None:
            untold.append(Untold(unit, "its present firmware is not in the book"))
        elif unit.firmware == target:
            already.append(unit)
        elif line_of(profile, unit.firmware) is None:
            untold.append(Untold(unit, f"its firmware {unit.firmware} is no line of the profile {profile.key}"))
        else:
            steps.append(step_between(unit, profile, unit.firmware, target))
    return Steps(steps=tuple(steps), already=tuple(already), untold=tuple(untold))


def step_between(unit: Unit, profile: Profile, version_from: str, version_to: str) -> Step:
    """Return the step of a unit between two lines of its profile, in either direction."""
    versions = [line.version for line in profile.firmware]
    here, there = versions.index(version_from), versions.index(version_to)
    back = there < here
    passed = profile.firmware[there + 1 : here + 1][::-1] if back else profile.firmware[here + 1 : there + 1]
    return Step(
        unit=unit,
        version_from=version_from,
        version_to=version_to,
        lines=passed,
        back=back,
        generation_before=profile.firmware[here].pairing_generation,
        generation_after=profile.firmware[there].pairing_generation,
        load_s=sum(line.step_s + (profile.restart_s if line.needs_restart else 0.0) for line in passed),
        settle_s=profile.settle_s,
    )


def way_back(walk: Walk, step: Step) -> Step | None:
    """Return the step that leads a unit back to where it was; None where its profile is gone."""
    profile = walk.profile(step.unit.profile)
    return step_between(step.unit, profile, step.version_to, step.version_from) if profile else None


def line_of(profile: Profile, version: str | None) -> FirmwareLine | None:
    """Return the line of a version, or None."""
    return next((line for line in profile.firmware if line.version == version), None)


def generation_now(walk: Walk, unit: Unit) -> int | None:
    """Return the pairing generation that a unit speaks now, or None where the book cannot tell."""
    profile = walk.profile(unit.profile)
    line = line_of(profile, unit.firmware) if profile else None
    return line.pairing_generation if line else None
