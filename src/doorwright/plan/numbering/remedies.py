"""What would help where numbers cannot be issued. Each remedy is tried for real: the scheme is run with it."""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from doorwright.kernel.words import counted
from doorwright.model.change import Set
from doorwright.model.label import natural_key
from doorwright.model.naming import named
from doorwright.model.place import Dwelling
from doorwright.model.site import Choices, NumberPrefix, NumberScheme
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.numbering.conflicts import CauseKind, Conflict
from doorwright.plan.numbering.dialling import Dialling, Keypad, begins
from doorwright.plan.numbering.issuing import NumberPlan
from doorwright.plan.numbering.listing import listed
from doorwright.plan.order import WalkingOrder


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something that can be done, how many digits the longest number then has, and whether everyone then has one."""

    words: str
    digits_count: int | None
    fits: bool

    def __str__(self) -> str:
        says = "fits" if self.fits else "does not fit"
        needs = "" if self.digits_count is None else f"needs {counted(self.digits_count, 'digit')}: "
        return f"{self.words} ({needs}{says})"


class Remedies:
    """Tries remedies on one site; what holds for all its conflicts is tried once."""

    def __init__(self, walk: Walk, order: WalkingOrder, plan: NumberPlan) -> None:
        self._walk = walk
        self._order = order
        self._plan = plan
        self._choices = plan.numbering.choices
        self._tried: dict[Choices, tuple[NumberPlan, NumberPlan]] = {}

    def for_conflict(self, conflict: Conflict) -> tuple[Remedy, ...]:
        """Return the remedies of one conflict: by hand, by its causes, then by other schemes, those that fit first."""
        direct = [*self._by_hand(conflict), *self._of_causes(conflict)]
        schemes = [self._with(choices, words, conflict) for choices, words in self._other_choices()]
        schemes.sort(key=lambda remedy: (not remedy.fits, remedy.digits_count or 0))
        return (*direct, *schemes)

    def _by_hand(self, conflict: Conflict) -> Iterator[Remedy]:
        wanting = [self._walk.get(Dwelling, ident) for ident in conflict.of_kind(CauseKind.WANTING)]
        one = conflict.stuck[0]
        number = self._free_number(one)
        whom = "one of them another number" if len(wanting) > 1 else "it a number"
        if number is None:
            yield Remedy(f"give {whom} by hand: none is free that the keypads take", None, fits=False)
            return
        run = self._changed(Set(Dwelling.KIND, one.id, "call_number", one.call_number, number))
        left = [dwelling for dwelling in run.stuck if dwelling.id in self._concerned(conflict)]
        words = f"give {whom} by hand, such as {number} for {named(self._walk, one)}"
        if left:
            words += f"; {len(left)} more are left then"
        yield Remedy(words, len(number), not left)

    def _free_number(self, dwelling: Dwelling) -> str | None:
        """Return the least free number of the length most common here that no door reads; None where there is none."""
        dialling, numbering = self._plan.dialling, self._plan.numbering
        taken = self._plan.taken.numbers(numbering.domain_of(dwelling))
        at_once = dialling.at_once(dwelling)
        confusing = [n for n, one in taken.items() if isinstance(one, Dwelling) and dialling.at_once(one) & at_once]
        on_doors = {numbering.digits(one) for one in numbering.dwellings}
        own = numbering.digits(dwelling) or "-"  # a number with its door's digits in it would be taken for them
        digits_max = dialling.digits_max(dwelling) or 6
        usual = min(digits_max, max((len(number) for number in taken), default=2))
        for length in (usual, *range(usual + 1, digits_max + 1), *range(usual - 1, 0, -1)):
            for value in range(1, min(10**length, 100_000)):
                number = str(value).zfill(length)
                if number in taken or number in on_doors or dialling.is_reserved(number) or own in number:
                    continue
                if not any(begins(number, other) for other in confusing):
                    return number
        return None

    def _of_causes(self, conflict: Conflict) -> Iterator[Remedy]:
        keypads = self._keypads(conflict)
        narrow = [keypad.vcu for keypad in keypads if keypad.digits_max]
        yield from self._of_keypads(conflict, CauseKind.KEYPAD_DIGITS, narrow, self._with_more_digits)
        ending_themselves = [keypad.vcu for keypad in keypads if keypad.at_once]
        yield from self._of_keypads(conflict, CauseKind.KEYPAD_AT_ONCE, ending_themselves, self._with_end_key)
        for text in conflict.of_kind(CauseKind.RESERVED):
            freed = self._run(self._choices, Dialling(self._walk, not_reserved=frozenset((text,))))
            yield Remedy(f"reserve {text} no longer", None, self._helps(freed, conflict))
        for ident in conflict.of_kind(CauseKind.CARRIED):
            holder = self._walk.find(Dwelling, ident)
            if holder is not None:
                anew = self._changed(Set(Dwelling.KIND, ident, "call_number", holder.call_number, None))
                words = f"empty the number of {named(self._walk, holder)}, which its labels may carry, and plan again"
                yield Remedy(words, None, self._helps(anew, conflict) and ident in anew.issued)

    def _of_keypads(
        self,
        conflict: Conflict,
        kind: CauseKind,
        alike: Sequence[Unit],
        tried: Callable[[Conflict, Sequence[Unit]], Remedy],
    ) -> Iterator[Remedy]:
        """Yield what another type for each keypad among the causes does; where none helps alone, for all alike."""
        alone = [tried(conflict, [self._walk.get(Unit, ident)]) for ident in conflict.of_kind(kind)]
        yield from alone
        if alone and len(alike) > 1 and not any(remedy.fits for remedy in alone):
            yield tried(conflict, alike)

    def _with_more_digits(self, conflict: Conflict, vcus: Sequence[Unit]) -> Remedy:
        run = self._run(self._choices, Dialling(self._walk, no_digits_max=frozenset(vcu.id for vcu in vcus)))
        digits = _digits_count(run, self._concerned(conflict))
        takes = counted(digits, "digit") if digits else "more digits"
        return Remedy(f"{self._another_type(vcus)} takes {takes}", digits, self._helps(run, conflict))

    def _with_end_key(self, conflict: Conflict, vcus: Sequence[Unit]) -> Remedy:
        run = self._run(self._choices, Dialling(self._walk, not_at_once=frozenset(vcu.id for vcu in vcus)))
        return Remedy(f"{self._another_type(vcus)} dials on an end key", None, self._helps(run, conflict))

    def _another_type(self, vcus: Sequence[Unit]) -> str:
        return f"choose a type for {listed([named(self._walk, vcu) for vcu in vcus])} that"

    def _keypads(self, conflict: Conflict) -> list[Keypad]:
        """Return the keypads that are to reach those whom a conflict is about, in order of name."""
        dwellings = (self._walk.get(Dwelling, ident) for ident in self._concerned(conflict))
        found = {keypad.vcu.id: keypad for one in dwellings for keypad in self._plan.dialling.keypads(one)}
        return sorted(found.values(), key=lambda keypad: (natural_key(keypad.vcu.name), keypad.vcu.id))

    def _other_choices(self) -> Iterator[tuple[Choices, str]]:
        own = self._choices
        several = len(self._order.cores()) > 1
        if own.number_digits_count is not None:
            yield replace(own, number_digits_count=None), "leave the number of digits to the planner"
        for prefix in NumberPrefix if several else ():
            if prefix is not own.number_prefix:
                yield replace(own, number_prefix=prefix), f"prefix {prefix.value!r}"
        for scheme in NumberScheme:
            if scheme is not own.number_scheme:
                yield replace(own, number_scheme=scheme), f"scheme {scheme.value!r}"
                if several and own.number_prefix is not NumberPrefix.CORE:
                    both = replace(own, number_scheme=scheme, number_prefix=NumberPrefix.CORE)
                    yield both, f"scheme {scheme.value!r} with prefix {NumberPrefix.CORE.value!r}"

    def _with(self, choices: Choices, words: str, conflict: Conflict) -> Remedy:
        if choices not in self._tried:
            boundless = Dialling(self._walk, no_digits_max=None)
            self._tried[choices] = (self._run(choices, self._plan.dialling), self._run(choices, boundless))
        limited, unlimited = self._tried[choices]
        fits = self._helps(limited, conflict)
        return Remedy(words, _digits_count(limited if fits else unlimited, self._concerned(conflict)), fits)

    def _run(self, choices: Choices, dialling: Dialling) -> NumberPlan:
        return NumberPlan(self._walk, self._order, choices, dialling)

    def _changed(self, change: Set) -> NumberPlan:
        walk = self._walk.after((change,))
        return NumberPlan(walk, WalkingOrder(walk), self._choices, Dialling(walk))

    def _concerned(self, conflict: Conflict) -> set[str]:
        return {*conflict.of_kind(CauseKind.WANTING), *(one.id for one in conflict.stuck)}

    def _helps(self, run: NumberPlan, conflict: Conflict) -> bool:
        """Say whether all whom the conflict is about have a number in this run, and nobody else lost one."""
        stuck = {one.id for one in run.stuck}
        return not stuck & self._concerned(conflict) and stuck <= {one.id for one in self._plan.stuck}


def _digits_count(run: NumberPlan, concerned: Collection[str]) -> int | None:
    return max((len(number) for ident, number in run.numbers.items() if ident in concerned), default=None)
