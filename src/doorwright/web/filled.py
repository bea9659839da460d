"""What somebody filled into a form, read field by field; every mistake is told, not the first alone."""

from collections.abc import Mapping
from datetime import date
from math import isfinite

from doorwright.kernel.errors import Mistake, Refused
from doorwright.web.asking import Ask


class Filled:
    """Reads the fields of a form by name; ``labels`` is what each is called on the page."""

    def __init__(self, ask: Ask, labels: Mapping[str, str]) -> None:
        self._ask = ask
        self._labels = labels
        self._mistakes: list[Mistake] = []

    def whole(self, name: str, *, default: int, least: int, most: int) -> int:
        """Return a whole number of a range; a blank field is the default."""
        text = self._ask.text(name)
        if not text:
            return default
        if text.isascii() and text.isdecimal() and least <= int(text) <= most:
            return int(text)
        self.wrong(name, text, "this is no whole number of the range", f"Write one from {least} to {most}.")
        return default

    def number(self, name: str, *, default: float, least: float, most: float) -> float:
        """Return a number of a range; a blank field is the default."""
        text = self._ask.text(name)
        if not text:
            return default
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if isfinite(value) and least <= value <= most:
            return value
        self.wrong(name, text, "this is no number of the range", f"Write one from {least:g} to {most:g}.")
        return default

    def day(self, name: str) -> date | None:
        """Return a day; None where it cannot be read, which is noted."""
        text = self._ask.text(name)
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.wrong(name, text, "this is no day", "Choose a day, or write it as 2030-06-30.")
            return None

    def wrong(self, name: str, read: str, problem: str, remedy: str) -> None:
        """Note a mistake in a field."""
        self._mistakes.append(Mistake(where=self._labels.get(name, name), read=read, problem=problem, remedy=remedy))

    def see(self, undone: str) -> None:
        """Go on where nothing was wrong.

        Raises:
            Refused: something was; ``undone`` says what was therefore not done.
        """
        if self._mistakes:
            raise Refused(
                undone, remedy="Go back, correct what is listed here, and try again.", mistakes=tuple(self._mistakes)
            )
