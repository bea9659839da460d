"""Every rule, by area."""

from collections.abc import Iterator

from doorwright.model.part import Part
from doorwright.rules.catalogue import AREAS, RULES, rules_of, title_of
from doorwright.rules.rule import Rule
from generators import markdown
from generators.markdown import Raw, cell, link, plain, table

_INTRO = """
A rule looks at one part of the site, or at the site as a whole. It says one of three things: it holds, it does not hold
(a finding), or it cannot be judged yet because a fact is missing. Nothing that could not be judged counts as fine.

An **error** is a fault: something will not work, or somebody could be hurt. A **warning** is a likely fault, or bad
practice. A **note** is something to know. A finding can be [waived](../howto/waive-a-finding.md).

The examples are edits of one small sound building, or say what was found or signed off there; the tests make each of
them and look at what the rule says.

The rules are an aid to planning. They do not approve a design: see
[sources and limits](../explain/sources-and-limits.md).
"""


def page() -> str:
    """Return the page."""
    return markdown.page("Rules", _INTRO, f"There are {len(RULES)} rules.", *_overviews(), *_pages())


def _overviews() -> Iterator[str]:
    for area in AREAS:
        yield f"**{plain(title_of(area))}**"
        yield table(
            ("rule", "severity", "finds"), [(link(one.id), one.severity.value, one.title) for one in rules_of(area)]
        )


def _pages() -> Iterator[str]:
    for area in AREAS:
        yield f"## {plain(title_of(area))}"
        for one in rules_of(area):
            yield from _page(one)


def _page(one: Rule) -> Iterator[str]:
    looked_at = one.over.KIND if issubclass(one.over, Part) else "site"
    yield f"### {one.id}"
    yield f"{plain(one.title)}"
    yield table(
        ("severity", "looks at", "phases"),
        [(one.severity.value, looked_at, ", ".join(phase.value for phase in one.phases))],
    )
    yield f"**Why it matters.** {_sentence(one.why)}"
    yield f"**What to do.** {_sentence(one.remedy)}"
    yield f"**Finds, for example.** {_sentence(one.finds.text)}"
    yield f"**Lets pass, for example.** {_sentence(one.passes.text)}"
    yield "\n".join(["**Sources.**", "", *(f"- {cell(cite)} ({cite.held.value})" for cite in one.cites)])


def _sentence(text: str) -> Raw:
    return Raw(plain(text[:1].upper() + text[1:]))
