"""Find what is known of a word: rules, calculations, words of the trade, columns of the workbook, profile fields."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum
from functools import cache
from typing import Final

from doorwright.calc.catalogue import areas
from doorwright.kernel.calculation_page import page_of
from doorwright.model.glossary import WORDS
from doorwright.model.profile_fields import MEANING_BY_FIELD
from doorwright.rules.catalogue import RULES
from doorwright.store.workbook.columns import SETTINGS, SHEETS

SITE_SHEET: Final = "Site"
_WORD: Final = re.compile(r"\w+(?:\.\w+)*")


class TopicKind(StrEnum):
    """What a topic is; also the step of its address."""

    WORD = "words"
    RULE = "rules"
    CALCULATION = "calculations"
    COLUMN = "columns"
    FIELD = "profiles"
    KEY = "keyboard"
    CAUTION = "cautions"


@dataclass(frozen=True, slots=True, kw_only=True)
class Topic:
    """Something that help has a page or a line for. ``more`` is what it is also found by."""

    kind: TopicKind
    key: str
    title: str
    told: str
    more: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundHelp:
    """What was found, the best first; where nothing was, ``near`` are words that are found."""

    topics: tuple[Topic, ...]
    near: tuple[str, ...] = ()


@cache
def known_topics() -> tuple[Topic, ...]:
    """Return every topic that the program itself knows."""
    return (*_words(), *_rules(), *_calculations(), *_columns(), *_fields())


def find_help(sought: str, topics: Sequence[Topic]) -> FoundHelp:
    """Return the topics in which every word of ``sought`` begins a word."""
    wanted = _split(sought)
    if not wanted:
        return FoundHelp(topics=())
    ranked = [(rank, topic) for topic in topics if (rank := _rank(wanted, topic)) is not None]
    if ranked:
        return FoundHelp(topics=tuple(topic for _, topic in sorted(ranked, key=lambda one: one[0])))
    known = sorted({word for topic in topics for word in _split(f"{topic.key} {topic.title}")})
    near = [other for word in wanted for other in get_close_matches(word, known, n=2, cutoff=0.75)]
    return FoundHelp(topics=(), near=tuple(dict.fromkeys(near)))


def _split(text: str) -> list[str]:
    return _WORD.findall(text.casefold().replace("_", " "))


def _rank(wanted: list[str], topic: Topic) -> int | None:
    """Return 0 where the title is what is sought, more the further off it is, None where a word is absent."""
    named = [_split(topic.title), _split(topic.key)]
    if wanted in named:
        return 0
    for rank, words in ((1, [*named[0], *named[1]]), (2, _split(topic.more)), (3, _split(topic.told))):
        named.append(words)
        if all(any(word.startswith(want) for words in named for word in words) for want in wanted):
            return rank
    return None


def _words() -> Iterator[Topic]:
    for one in WORDS:
        yield Topic(kind=TopicKind.WORD, key=one.key, title=one.written, told=one.meaning)


def _rules() -> Iterator[Topic]:
    for one in RULES:
        more = f"{one.why} {one.remedy} {' '.join(map(str, one.cites))}"
        yield Topic(kind=TopicKind.RULE, key=one.id, title=one.id, told=one.title, more=more)


def _calculations() -> Iterator[Topic]:
    for area in areas():
        for one in area.calculations:
            told = page_of(one).paragraphs[0].text.removeprefix("Return ")
            more = f"{area.title} {' '.join(map(str, one.cites))}"
            yield Topic(kind=TopicKind.CALCULATION, key=one.id, title=one.title, told=told, more=more)


def _fields() -> Iterator[Topic]:
    for name, meaning in MEANING_BY_FIELD.items():
        yield Topic(kind=TopicKind.FIELD, key=name, title=name, told=meaning, more="profile data sheet type")


def _columns() -> Iterator[Topic]:
    for setting in SETTINGS:
        yield Topic(
            kind=TopicKind.COLUMN,
            key=SITE_SHEET,
            title=f"{SITE_SHEET}: {setting.heading}",
            told=setting.note,
            more=" ".join(setting.synonyms),
        )
    for sheet in SHEETS:
        for column in sheet.columns:
            yield Topic(
                kind=TopicKind.COLUMN,
                key=sheet.name,
                title=f"{sheet.name}: {column.heading}",
                told=column.note,
                more=" ".join((*sheet.synonyms, *column.synonyms)),
            )
