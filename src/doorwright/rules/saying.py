"""How rules say what they found: a study's answer, long lists cut short, one speaker for parts that clash."""

from collections.abc import Callable, Iterable
from typing import TypeVar

from doorwright.model.part import Part
from doorwright.rules.rule import HOLDS, Found, Lacks, Said
from doorwright.studies.study import Study

Value = TypeVar("Value")


def found_or_holds(found: Iterable[Found]) -> Said:
    """Yield what was found, or that the rule holds where nothing was."""
    holds = True
    for one in found:
        holds = False
        yield one
    if holds:
        yield HOLDS


def answered(study: Study[Value], wrong: Callable[[Value], str | None]) -> Said:
    """Yield what a study waits for; else what is wrong with its value, or that the rule holds where nothing is.

    Where the question does not arise for the subject, nothing is yielded.
    """
    if study.value is not None:
        message = wrong(study.value)
        yield HOLDS if message is None else Found(message)
    elif study.missing:
        yield Lacks(study.missing)


def some(texts: Iterable[str], at_most_count: int = 3) -> str:
    """Return the first few texts in order, and how many more there are."""
    ordered = sorted(texts)
    text = ", ".join(ordered[:at_most_count])
    more = len(ordered) - at_most_count
    return f"{text} and {more} more" if more > 0 else text


def speaks_for(part: Part, sharers: Iterable[Part]) -> bool:
    """Say whether ``part`` reports a clash for its kind: of all that share in it, the least identifier does."""
    return not any(other.id < part.id for other in sharers if type(other) is type(part))


def others(part: Part, sharers: Iterable[Part]) -> tuple[Part, ...]:
    """Return the sharers of a clash other than ``part``, in order of kind and identifier."""
    return tuple(sorted((one for one in sharers if one.subject != part.subject), key=lambda one: (one.KIND, one.id)))
