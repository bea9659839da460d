"""Find the plan's units by WS-Discovery: at their planned addresses, and, if wanted, wherever else on this network."""

import asyncio
from collections.abc import Callable, Container, Iterable, Sequence
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

from doorwright.app.means import Means
from doorwright.app.take_found import Compared, compare_found
from doorwright.app.verify_book import CAUTION, chosen_of, of_these
from doorwright.app.while_wanted import while_wanted
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.trail import Act
from doorwright.kernel.verdict import Subject
from doorwright.kernel.words import counted
from doorwright.line.udp import Address
from doorwright.model.aspect import Aspect
from doorwright.model.network import Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.probe.ask import Manner
from doorwright.probe.discovery import EVERYBODY, LISTEN_S, PORT, Discovered, Match, ask_discovery, discover
from doorwright.probe.named_itself import part_named
from doorwright.probe.runner import Pace, run, wait_turn
from doorwright.probe.target import Target, targets
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Whereabouts:
    """A device that answered: from which address, which part of the plan it is by its own words (None: a stranger).

    ``endpoint`` is what it calls itself, ``is_elsewhere`` says that the plan has that part at another address.
    """

    address: str
    endpoint: str
    part: str | None = None
    planned: str | None = None

    @property
    def is_elsewhere(self) -> bool:
        """Whether it is of the plan, and not where it should be."""
        return self.part is not None and self.planned != self.address


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundUnits:
    """What came of it: who answered, whether this machine could ask everybody, observations gained, and the plan."""

    answered: tuple[Whereabouts, ...]
    no_way: str
    new_count: int
    compared: Compared


def find_units(
    book_path: Path,
    means: Means,
    *,
    manner: Manner,
    everywhere: bool = False,
    port: int | None = PORT,
    everybody_at: Address = EVERYBODY,
    listen_s: float = LISTEN_S,
    only: Sequence[str] = (),
    among: Container[Subject] | None = None,
    permitted: bool = False,
    still_wanted: Callable[[], None] = lambda: None,
) -> FoundUnits:
    """Send a Probe to each planned address and, if wanted, one to the local network; note who is where.

    Strangers are told and never asked further.

    Args:
        book_path: the book.
        means: the world.
        manner: how fast, how many at once, with how much patience.
        everywhere: whether one Probe goes to everybody on the local network as well.
        port: the UDP port at which planned addresses are asked; None asks none of them.
        everybody_at: the group of that one Probe, and its port.
        listen_s: how long its answers are awaited.
        only: the names of the parts to ask; none asks all.
        among: of these, who is to be asked; None asks them all.
        permitted: that the network's owner permits it. Once it was said, the book remembers.
        still_wanted: is asked a few times a second; whatever it raises stops the asking, and is raised here. Who was
            found until then is in the book.

    Raises:
        Refused: nobody said that it is permitted, or a name that is in no plan. Nothing was sent.
    """
    with Book.open(book_path) as book:
        if not permitted and not any(noted.act is Act.ASKED for noted in book.trail()):
            raise Refused(f"the network's owner must permit this first. {CAUTION}", remedy="If so, say it: --permitted")
        walk = Walk(book.site())
        everybody, unfit = targets(walk, manner.ports)
        chosen, unchosen = chosen_of(everybody, unfit, only)
        due = [one for one in chosen if port is not None and one.subject.kind in {Unit.KIND, Switch.KIND}]
        due = [one for one in due if among is None or one.subject in among]
        told = f"{counted(len(due), 'part')} by discovery" + (", and the local network once" if everywhere else "")
        if due or everywhere:
            book.note_trail(means.trace(Act.ASKED, f"{told}, {manner.asks_per_s:g} asks a second at most"))
        matches: dict[Match, None] = {}
        seeking = _seek(
            matches, due, means, manner, port or PORT, towards=_towards(everybody) if everywhere else None,
            everybody_at=everybody_at, listen_s=listen_s,
        )  # fmt: skip
        try:
            no_way = asyncio.run(while_wanted(seeking, still_wanted))
        finally:  # also where somebody stops it
            named = [(match, part_named(walk, match)) for match in matches]
            new_count = book.observe(list(_observed(named, means)))
    subjects = {one.subject for side in (chosen, unchosen) for one in side} if only else None
    return FoundUnits(
        answered=tuple(
            Whereabouts(
                address=match.address,
                endpoint=match.endpoint,
                part=part.label if part is not None else None,
                planned=part.address if part is not None else None,
            )
            for match, part in named
        ),
        no_way="" if not everywhere else no_way,
        new_count=new_count,
        compared=of_these(compare_found(book_path), subjects),
    )


def _towards(everybody: Iterable[Target]) -> str:
    """Return an IPv4 address of the plan, so that the Probe leaves on the network that leads there; or nothing."""
    return next((one.address for one in everybody if ip_address(one.address).version == 4), "")


async def _seek(
    found: dict[Match, None],
    due: Sequence[Target],
    means: Means,
    manner: Manner,
    port: int,
    *,
    towards: str | None,
    everybody_at: Address,
    listen_s: float,
) -> str:
    """Put into ``found`` what each device says of itself, once; return why not everybody could be asked."""
    pace = Pace(manner.asks_per_s)

    async def ask(target: Target) -> Discovered:
        await wait_turn(pace)
        return await ask_discovery(target.address, patience_s=manner.patience_s, chance=means.random_bytes, port=port)

    def take(one: Discovered) -> None:
        found.update(dict.fromkeys(one.matches))

    await run(due, ask, take, at_once_count=manner.at_once_count)
    if towards is None:
        return ""
    if not towards:
        return "no part of the plan has an IPv4 address"
    await wait_turn(pace)
    try:
        found.update(
            dict.fromkeys(await discover(towards, chance=means.random_bytes, listen_s=listen_s, everybody=everybody_at))
        )
    except OSError as error:
        return error.strerror or str(error)
    return ""


def _observed(named: Iterable[tuple[Match, Unit | Switch | None]], means: Means) -> Iterable[Observation]:
    """Yield at which address each part of the plan was found. Who answers at several is not told: it may be two."""
    at: dict[Subject, set[str]] = {}
    for match, part in named:
        if part is not None:
            at.setdefault(part.subject, set()).add(match.address)
    for subject, addresses in at.items():
        told = [(Aspect.DISCOVERY, "yes")]
        if len(addresses) == 1:
            told.append((Aspect.ADDRESS, next(iter(addresses))))
        for aspect, value in told:
            yield Observation(
                id=means.new_id(),
                stage=Stage.FOUND,
                subject=subject,
                aspect=aspect,
                value=value,
                seen_at=means.now(),
                seen_by=means.who,
            )
