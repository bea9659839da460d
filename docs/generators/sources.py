"""Every source of a figure, formula or rule, and how it is held."""

from collections import Counter
from typing import Final

from doorwright.kernel.source import Held
from doorwright.kernel.source import sources as all_sources
from generators import markdown
from generators.markdown import code, table

_INTRO: Final = """
Every figure, formula and rule names a place in one of these sources. The last column says how the source was known to
those who wrote the figure down; papers print that mark beside it. What the marks mean, and what they do not, stands in
[sources and limits](../explain/sources-and-limits.md).
"""


def page() -> str:
    """Return the page."""
    known = sorted(all_sources().values(), key=lambda source: source.title.casefold())
    held = Counter(source.held for source in known)
    return markdown.page(
        "Sources",
        _INTRO,
        table(("held", "sources"), [(one.value, held[one]) for one in Held if held[one]]),
        table(
            ("key", "title", "publisher", "edition", "held"),
            [(code(one.key), one.title, one.publisher, one.edition, one.held.value) for one in known],
        ),
    )
