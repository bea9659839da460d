"""Refusals and mistakes. A user's mistakes are values, all of them at once; our own are ordinary exceptions."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Mistake:
    """One thing wrong in what the user gave: where it stands, what was read there, what is wrong, what to do."""

    where: str
    read: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        read = f" (read: {self.read})" if self.read else ""
        return f"{self.where}: {self.problem}{read}. {self.remedy}"


class Refused(Exception):  # noqa: N818  (a refusal is an answer, not an error of the program)
    """The request cannot be carried out, and nothing was changed. Ends a command with exit code 2."""

    def __init__(self, message: str, remedy: str = "", mistakes: tuple[Mistake, ...] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy
        self.mistakes = mistakes
