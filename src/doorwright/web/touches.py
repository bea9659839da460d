"""Touch lists for pages: visit by visit, what is done and entered there; and which calls are tried again."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from doorwright.plan.retest import together
from doorwright.plan.settings import shown
from doorwright.plan.touch import Alteration, Touch


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryView:
    """One setting: what it is, what stands there now, and what is entered. A secret shows its line alone."""

    name: str
    was: str | None
    enter: str | None
    renewed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitView:
    """One visit: the unit, where it is, and the work there."""

    number: int
    part: str
    name: str
    where: str
    fresh: bool
    gone: bool
    cautions: tuple[str, ...]
    work: tuple[str, ...]
    entries: tuple[tuple[str, tuple[EntryView, ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TestView:
    """Calls to try again from one entrance, and the doors to free by them."""

    entrance: str
    called: tuple[str, ...]
    doors: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchView:
    """A touch list."""

    visits: tuple[VisitView, ...]
    tests: tuple[TestView, ...]


def touch_view(touches: Sequence[Touch]) -> TouchView:
    """Return a touch list as pages show it."""
    tests = together(touch.tests for touch in touches)
    return TouchView(
        visits=tuple(map(_visit, touches)),
        tests=tuple(TestView(entrance=test.entrance, called=test.called, doors=test.doors) for test in tests),
    )


def _visit(touch: Touch) -> VisitView:
    return VisitView(
        number=touch.number,
        part=touch.holder.id,
        name=touch.name,
        where=touch.where,
        fresh=touch.fresh,
        gone=touch.gone,
        cautions=touch.cautions,
        work=touch.work,
        entries=() if touch.gone else tuple(_groups(touch.entries)),
    )


def _groups(entries: Iterable[Alteration]) -> Iterable[tuple[str, tuple[EntryView, ...]]]:
    for heading, group in groupby(entries, key=lambda entry: entry.heading):
        yield heading, tuple(map(_entry, group))


def _entry(entry: Alteration) -> EntryView:
    was = shown(entry.old) if entry.old is not None else None
    enter = shown(entry.new) if entry.new is not None else None
    return EntryView(name=entry.name, was=was, enter=enter, renewed=was is not None and was == enter)
