"""Every calculation of a site, question by question, the least margin first, as the annex of workings prints them."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from doorwright.kernel.words import slug_of
from doorwright.model.label import natural_key
from doorwright.model.naming import named
from doorwright.model.walk import Walk
from doorwright.render.pdf.papers.workings import answer_of, cell, heading, steps_of, subject_of
from doorwright.studies.registrar_calls import RegistrarCalls
from doorwright.studies.study import Study


@dataclass(frozen=True, slots=True)
class Heading:
    """The heading of a column of figures, and their unit."""

    words: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A question put to one part: its name, where it is, and the figures under the question's headings.

    Where facts are missing, ``missing`` names them and there are no figures. ``short`` says that it is past its limit
    or misses its goal.
    """

    kind: str
    ident: str
    name: str
    where: str
    cells: tuple[str, ...]
    missing: tuple[str, ...]
    short: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """All cases of one question: those answered, the least margin first, and those that wait for facts."""

    title: str
    slug: str
    headings: tuple[Heading, ...]
    answered: tuple[Case, ...]
    waiting: tuple[Case, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A formula with its figures put in, once."""

    inputs: str
    result: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """One step of a study: its calculation and formula, when it is valid, each run, its sources, how each is held."""

    calculation: str
    title: str
    formula: str
    valid: str
    runs: tuple[Run, ...]
    sources: str


def questions(walk: Walk, studies: Sequence[Study[Any]]) -> tuple[Question, ...]:
    """Return all studies, sorted by question; the questions in the order of their titles."""
    by_title = sorted(studies, key=lambda study: study.title)
    return tuple(_question(walk, title, list(group)) for title, group in groupby(by_title, key=lambda one: one.title))


def explained(study: Study[Any]) -> tuple[Explained, ...]:
    """Return the steps of a study; a calculation made several times in a row is explained once."""
    return tuple(
        Explained(
            calculation=step["id"],
            title=step["title"],
            formula=step["formula"],
            valid=step["valid"],
            runs=tuple(Run(inputs=run["inputs"], result=run["result"]) for run in step["runs"]),
            sources=step["sources"],
        )
        for step in steps_of(study.workings)
    )


def is_short(study: Study[Any]) -> bool:
    """Say whether the answer is past its limit or misses its goal; a registrar's calls have none, they are told."""
    value = study.value
    return value is not None and not isinstance(value, RegistrarCalls) and answer_of(value).margin(value) < 0.0


def _question(walk: Walk, title: str, studies: list[Study[Any]]) -> Question:
    answered = [study for study in studies if study.value is not None]
    waiting = [study for study in studies if study.value is None]
    columns: tuple[str, ...] = ()
    if answered:
        answer = answer_of(answered[0].value)
        columns = answer.columns
        answered.sort(key=lambda study: (answer.margin(study.value), natural_key(subject_of(walk, study))))
    waiting.sort(key=lambda study: natural_key(subject_of(walk, study)))
    return Question(
        title=title,
        slug=slug_of(title),
        headings=tuple(Heading(**heading(column)) for column in columns),
        answered=tuple(_case(walk, study, columns) for study in answered),
        waiting=tuple(_case(walk, study, ()) for study in waiting),
    )


def _case(walk: Walk, study: Study[Any], columns: tuple[str, ...]) -> Case:
    name = subject_of(walk, study)
    part = walk.part(study.subject.id)
    whole = named(walk, part) if part is not None else ""
    return Case(
        kind=study.subject.kind,
        ident=study.subject.id,
        name=name,
        where=whole.partition(" (")[2].removesuffix(")"),
        cells=tuple(cell(column, getattr(study.value, column)) for column in columns),
        missing=tuple(str(one) for one in study.missing),
        short=is_short(study),
    )
