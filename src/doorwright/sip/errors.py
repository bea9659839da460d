"""The two ways in which something goes wrong: we were asked for what cannot be, or the other side broke the rules."""

from doorwright.sip.codes import reason_of


class LocalError(Exception):
    """We were asked for something that the state or the grammar does not allow. Nothing was sent or changed."""


class PeerError(Exception):
    """The other side broke the rules.

    Raised where a reading cannot go on, and kept as a value where it can (`Request.faults`, `validate`). Where the
    fault is in a request, `code` and `reason` are the response to give; where it is in a response, nothing is ever
    sent back (RFC 3261 §8.1.3), and the response is dropped.

    Attributes:
        problem: what is wrong, in words that may go into a log (they never hold credentials).
        code: the response code that answers it, 400 to 699.
        reason: the words beside the code.
        clause: where the rule stands, such as "RFC 3261 §20.16".
        headers: what else the response must carry, such as ("Unsupported", "100rel").
    """

    def __init__(
        self,
        problem: str,
        *,
        code: int = 400,
        reason: str = "",
        clause: str = "",
        headers: tuple[tuple[str, str], ...] = (),
    ) -> None:
        super().__init__(problem)
        self.problem = problem
        self.code = code
        self.reason = reason or reason_of(code)
        self.clause = clause
        self.headers = headers

    def __str__(self) -> str:
        clause = f" ({self.clause})" if self.clause else ""
        return f"{self.code} {self.reason}: {self.problem}{clause}"
