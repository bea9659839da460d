"""Asking for credentials and taking them: a registrar with 401, a proxy with 407 (RFC 3261 §22, RFC 8760 §2)."""

from collections.abc import Callable, Iterable

from doorwright.sip.digest import HEADERS, Account, Credentials, parse_credentials
from doorwright.sip.errors import PeerError
from doorwright.sip.message import Request
from doorwright.sip.nonces import Accounts, NonceBook
from doorwright.sip.uri import equivalent, parse_uri


class Guard:
    """Lets through who proves an account of one realm, and challenges everybody else.

    One for each role: the counts that it keeps are those of its own nonces.
    """

    def __init__(
        self, accounts: Iterable[Account], *, book: NonceBook, chance: Callable[[int], bytes], code: int = 401
    ) -> None:
        """Set up.

        Args:
            accounts: who may come.
            book: gives the nonces, with its realm and its algorithms, the most wanted first.
            chance: makes that many octets which nobody can foresee.
            code: 401 as a registrar asks, 407 as a proxy does.
        """
        self._accounts = Accounts(accounts, realm=book.realm)
        self._book = book
        self._chance = chance
        self._code = code
        self._challenge, self._answer = HEADERS[code]

    def admit(self, request: Request, *, now_s: float) -> Account:
        """The account that the request proves.

        Raises:
            PeerError: it proves none; `code` and `headers` are the challenge to give. Credentials for our realm that
                cannot be read are a 400.
        """
        stale = False
        problem = "no credentials for this realm"
        for credentials in self._told(request):
            judged = self._book.judge(
                credentials,
                method=request.method,
                uri=request.target,
                body=request.body,
                now_s=now_s,
                accounts=self._accounts,
                same_uri=same_target,
            )
            if judged.account is not None:
                return judged.account
            stale |= judged.stale
            problem = judged.problem
        challenges = self._book.challenges(now_s=now_s, chance=self._chance, stale=stale)
        raise PeerError(
            problem,
            code=self._code,
            clause="RFC 3261 §22.2" if self._code == 401 else "RFC 3261 §22.3",
            headers=tuple((self._challenge, str(challenge)) for challenge in challenges),
        )

    def _told(self, request: Request) -> list[Credentials]:
        """Credentials for this realm; a proxy's may stand beside those for others on the way (§22.3)."""
        read = (parse_credentials(line) for line in request.headers.all(self._answer))
        return [told for told in read if told is not None and told.realm == self._book.realm]

    def without_credentials(self, request: Request) -> Request:
        """The request as it goes on: what was said to us is for nobody else (§22.3), what is for others stays."""
        kept = []
        for line in request.headers.all(self._answer):
            told = parse_credentials(line)
            if told is None or told.realm != self._book.realm:
                kept.append(line)
        return request.with_headers(request.headers.having(self._answer, *kept))


def same_target(told: str, target: str) -> bool:
    """Whether the address in credentials is the Request-URI: letter by letter, or as §19.1.4 compares (§22.4)."""
    if told == target:
        return True
    try:
        return equivalent(parse_uri(told), parse_uri(target))
    except PeerError:
        return False
