"""What a rule is, and the decorator that makes one.

A rule is a function of ``Facts`` and one subject. It yields ``Found`` for each way in which the rule does not hold,
``Lacks`` for each fact that it waits for, or ``HOLDS``; it yields nothing where it has nothing to say of the subject.
Its docstring is its page: a title named for the defect, then "Why it matters:" and "What to do:".
"""

import inspect
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final, TypeAlias

from doorwright.kernel.observation import Observation, Seen
from doorwright.kernel.signoff import SignOff, Statement
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Missing, Phase, Severity, Subject
from doorwright.model.part import Part
from doorwright.model.site import Site
from doorwright.model.walk import Walk

WHY: Final = "Why it matters:"
REMEDY: Final = "What to do:"


@dataclass(frozen=True, slots=True)
class Facts:
    """All that rules may know: the way around the site, the opened secrets by identifier (None: vault shut), today.

    ``observations`` are what counts of all that was found in the real building; where nothing was, the rules on it have
    nothing to say. ``sign_offs`` are those that stand (None: nobody keeps any).
    """

    walk: Walk
    secrets: Mapping[str, str] | None
    today: date
    observations: Seen = field(default_factory=dict)
    sign_offs: Mapping[Subject, Mapping[Statement, SignOff]] | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """The rule does not hold for the subject. ``also`` are further parts that the finding is about."""

    message: str
    also: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class Lacks:
    """The rule cannot be judged for the subject until these facts are there."""

    missing: tuple[Missing, ...]


class _Holds:
    """The rule was judged for the subject and holds."""


HOLDS: Final = _Holds()

Said: TypeAlias = Iterator[Found | Lacks | _Holds]


def lacks(part: Part, *fields: str) -> Lacks:
    """Say which fields of ``part``, in the workbook's words, a rule waits for."""
    return Lacks(tuple(Missing(part.KIND, field) for field in fields))


@dataclass(frozen=True, slots=True)
class Example:
    """A case for a rule: what is done to the sound site (``rules/sound.py``), in words and as an edit.

    ``observed`` is what was found in it, ``signed`` what people gave their word on (None: what the sound site has).
    """

    text: str
    edit: Callable[[Site], Site]
    observed: tuple[Observation, ...] = ()
    signed: tuple[SignOff, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule, with its page and its two examples: the case it finds and the case it lets pass."""

    id: str
    severity: Severity
    phases: tuple[Phase, ...]
    over: type[Part] | type[Site]
    cites: tuple[Cite, ...]
    title: str
    why: str
    remedy: str
    finds: Example
    passes: Example
    judge: Callable[[Facts, Any], Said]


def rule(
    *,
    over: type[Part] | type[Site],
    severity: Severity,
    phases: tuple[Phase, ...],
    cites: tuple[Cite, ...],
    finds: Example,
    passes: Example,
) -> Callable[[Callable[[Facts, Any], Said]], Rule]:
    """Make a rule of a function; its identifier is the function's name with hyphens."""
    if not cites:
        raise TypeError("a rule cites a source, or common practice")

    def make(judge: Callable[[Facts, Any], Said]) -> Rule:
        title, why, remedy = _page(judge)
        return Rule(
            id=judge.__name__.replace("_", "-"),
            severity=severity,
            phases=phases,
            over=over,
            cites=cites,
            title=title,
            why=why,
            remedy=remedy,
            finds=finds,
            passes=passes,
            judge=judge,
        )

    return make


def _page(judge: Callable[..., Any]) -> tuple[str, str, str]:
    text = inspect.getdoc(judge) or ""
    title, found_why, rest = text.partition(WHY)
    why, found_remedy, remedy = rest.partition(REMEDY)
    if not (title.strip() and found_why and found_remedy):
        raise TypeError(f"{judge.__name__}: the docstring needs a title, {WHY!r} and {REMEDY!r}")
    return title.strip(), _sentence(why), _sentence(remedy)


def _sentence(text: str) -> str:
    """Return running text on one line, its first letter large."""
    line = " ".join(text.split())
    return line[:1].upper() + line[1:]
