"""Ask the plan's switches over SNMP what hangs at their ports, how fast and how fed, and set it beside the plan."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from doorwright.app.means import Means
from doorwright.app.take_found import Compared, compare_found
from doorwright.app.vault import opened_secrets
from doorwright.app.verify_book import CAUTION, chosen_of, of_these
from doorwright.app.while_wanted import while_wanted
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.trail import Act
from doorwright.kernel.verdict import Subject
from doorwright.kernel.words import counted
from doorwright.model.aspect import NONE, REFUSED, Aspect
from doorwright.model.network import Switch
from doorwright.model.unit import SecretUse
from doorwright.model.walk import Walk
from doorwright.plan.pairing import mark_of
from doorwright.probe.ask import Manner
from doorwright.probe.at_ports import at_ports
from doorwright.probe.reach import Outcome
from doorwright.probe.runner import Pace, run, wait_turn
from doorwright.probe.snmp import PORT, SECRET_MIN_COUNT, Community, Digest, Key, User, ask_switch
from doorwright.probe.switch import SwitchSeen, read_switch
from doorwright.probe.target import LeftOut, Target, targets
from doorwright.store.book import Book

_WORDS: Final = {Outcome.ANSWERED: "yes", Outcome.REFUSED: REFUSED, Outcome.SILENT: NONE}


@dataclass(frozen=True, slots=True, kw_only=True)
class VaultKeys:
    """Each switch is opened by the device secret that the book's vault holds for it.

    With a ``user`` it is that user's authentication and privacy secret in version 3, else the community of version 2c.
    """

    passphrase: str = field(repr=False)
    user: str | None = None
    digest: Digest = Digest.SHA256


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchHeard:
    """What came of asking one switch; ``seen`` is None where it told nothing."""

    target: Target
    outcome: Outcome
    seen: SwitchSeen | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class VerifiedSwitches:
    """What came of asking the switches.

    Attributes:
        heard: what each told, in order of hearing.
        left_out: which cannot be asked, and why.
        new_count: how many observations the book gained.
        compared: what is found beside the plan: of everything, as switches tell of units.
    """

    heard: tuple[SwitchHeard, ...]
    left_out: tuple[LeftOut, ...]
    new_count: int
    compared: Compared

    def named(self, outcome: Outcome) -> tuple[str, ...]:
        """Return the names of those of whom this came."""
        return tuple(one.target.name for one in self.heard if one.outcome is outcome)


def verify_switches(
    book_path: Path,
    means: Means,
    *,
    manner: Manner,
    keys: Key | VaultKeys,
    port: int = PORT,
    only: Sequence[str] = (),
    permitted: bool = False,
    listen: Callable[[SwitchHeard, int, int], None] | None = None,
    still_wanted: Callable[[], None] = lambda: None,
) -> VerifiedSwitches:
    """Ask every switch of the plan, write down what they tell, and set it all beside the plan.

    Values are read and none is set. Stopped at any moment, what was told until then is in the book.

    Args:
        book_path: the book.
        means: the world.
        manner: how fast, how many at once, with how much patience.
        keys: what opens them: the same for all, or each one's own from the vault.
        port: the UDP port at which they are asked.
        only: the names of parts; of these the switches are asked, and these are set beside the plan. None means all.
        permitted: that the network's owner permits it. Once it was said, the book remembers.
        listen: hears each result, how many were asked by then, and how many are to be asked.
        still_wanted: is asked a few times a second; whatever it raises stops the asking, and is raised here.

    Raises:
        Refused: nobody said that it is permitted, a secret is too short, the passphrase is wrong, or a name that is in
            no plan. Nothing was sent.
    """
    with Book.open(book_path) as book:
        if not permitted and not any(noted.act is Act.ASKED for noted in book.trail()):
            raise Refused(f"the network's owner must permit this first. {CAUTION}", remedy="If so, say it: --permitted")
        walk = Walk(book.site())
        everybody, unfit = targets(walk, manner.ports)
        wanted, unwanted = chosen_of(everybody, unfit, only)
        key_of = _key_of(walk, opened_secrets(book, keys.passphrase), keys) if isinstance(keys, VaultKeys) else {}
        switches = [one for one in wanted if one.subject.kind == Switch.KIND]
        if not isinstance(keys, VaultKeys):
            see_long_enough(keys)
            key_of = {one.subject.id: keys for one in switches}
        due = [one for one in switches if one.subject.id in key_of]
        left_out = [one for one in unwanted if one.subject.kind == Switch.KIND]
        left_out += [
            LeftOut(subject=one.subject, name=one.name, reason="the vault holds no device secret for it")
            for one in switches
            if one.subject.id not in key_of
        ]
        hearing = _Hearing(book, walk, means, len(due), listen)
        if due:
            book.note_trail(means.trace(Act.ASKED, _said(due, keys, manner)))
            try:
                asyncio.run(while_wanted(_ask_all(due, key_of, manner, port, hearing), still_wanted))
            finally:  # also where somebody stops it
                hearing.keep()
    subjects = {one.subject for side in (wanted, unwanted) for one in side} if only else None
    return VerifiedSwitches(
        heard=tuple(hearing.heard),
        left_out=tuple(left_out),
        new_count=hearing.new_count,
        compared=of_these(compare_found(book_path), subjects),
    )


def _said(due: Sequence[Target], keys: Key | VaultKeys, manner: Manner) -> str:
    """Return what the trail says; it holds no secret."""
    by_user = keys.user is not None if isinstance(keys, VaultKeys) else isinstance(keys, User)
    source = ", secrets from the vault" if isinstance(keys, VaultKeys) else ""
    count = counted(len(due), "switch")
    return f"{count} over SNMP version {'3' if by_user else '2c'}{source}, {manner.asks_per_s:g} asks a second at most"


def _key_of(walk: Walk, secrets: Mapping[str, str], keys: VaultKeys) -> dict[str, Key]:
    """Return what opens each switch of whose device secret the vault knows, by the switch's identifier."""
    found: dict[str, Key] = {}
    for switch in walk.all(Switch):
        mark = mark_of(walk, switch, SecretUse.DEVICE)
        secret = secrets.get(mark.id) if mark is not None else None
        if secret is None:
            continue
        key: Key = Community(secret)
        if keys.user is not None:
            key = User(name=keys.user, auth_secret=secret, privacy_secret=secret, digest=keys.digest)
        see_long_enough(key, f"the device secret of {switch.name}")
        found[switch.id] = key
    return found


def see_long_enough(key: Key, what: str = "a secret of the SNMP user") -> None:
    """Refuse secrets that version 3 does not take.

    Raises:
        Refused: one is too short (RFC 3414 §11.2); ``what`` says whose.
    """
    if isinstance(key, User) and min(len(key.auth_secret), len(key.privacy_secret)) < SECRET_MIN_COUNT:
        raise Refused(
            f"{what} has fewer than {SECRET_MIN_COUNT} characters, and SNMP version 3 takes none so short",
            remedy="Nobody was asked. Enter a longer one at the switch, and give that.",
        )


async def _ask_all(
    due: Sequence[Target], key_of: Mapping[str, Key], manner: Manner, port: int, hearing: "_Hearing"
) -> None:
    pace = Pace(manner.asks_per_s)

    async def ask(target: Target) -> SwitchHeard:
        told = await ask_switch(
            target.address,
            key_of[target.subject.id],
            patience_s=manner.patience_s,
            turn=lambda: wait_turn(pace),
            port=port,
        )
        return SwitchHeard(target=target, outcome=told.outcome, seen=read_switch(told.values) if told.values else None)

    await run(due, ask, hearing.take, at_once_count=manner.at_once_count)


class _Hearing:
    """Takes what each switch tells; only what all of them tell together says where a part hangs."""

    def __init__(
        self,
        book: Book,
        walk: Walk,
        means: Means,
        due_count: int,
        listen: Callable[[SwitchHeard, int, int], None] | None,
    ) -> None:
        self._book = book
        self._walk = walk
        self._means = means
        self._due_count = due_count
        self._listen = listen
        self.heard: list[SwitchHeard] = []
        self.new_count = 0

    def take(self, heard: SwitchHeard) -> None:
        """Take a result, and tell it."""
        self.heard.append(heard)
        if self._listen is not None:
            self._listen(heard, len(self.heard), self._due_count)

    def keep(self) -> None:
        """Write down what was told. Of a switch to which this machine had no way, nothing is."""
        told = {one.target.subject.id: one.seen for one in self.heard if one.seen is not None}
        own = [
            (one.target.subject, Aspect.SNMP.value, _WORDS[one.outcome]) for one in self.heard if one.outcome in _WORDS
        ]
        self.new_count = self._book.observe([self._observed(*one) for one in (*own, *at_ports(self._walk, told))])

    def _observed(self, subject: Subject, aspect: str, value: str) -> Observation:
        return Observation(
            id=self._means.new_id(),
            stage=Stage.FOUND,
            subject=subject,
            aspect=aspect,
            value=value,
            seen_at=self._means.now(),
            seen_by=self._means.who,
        )
