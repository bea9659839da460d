"""The words of the trade."""

from typing import Final

from doorwright.model.glossary import WORDS
from generators import markdown
from generators.markdown import table

_INTRO: Final = """
The words that Doorwright uses, on the screen, on paper and in these pages. Where IEC 62820 or SIP has a word, it is
that one; the others are words of the trade, or Doorwright's own.
"""


def page() -> str:
    """Return the page."""
    rows = [(one.written, one.meaning, one.whose) for one in WORDS]
    return markdown.page("Words", _INTRO, table(("word", "meaning", "whose word"), rows))
