"""A visitor at a call unit: whom they call, what they hear, and the doors that are freed for them."""

from functools import partial
from typing import Protocol
from urllib.parse import quote

from doorwright.rehearse.box import KeyForm
from doorwright.rehearse.hunt import NOT_FOUND, Hunt, Ringer
from doorwright.rehearse.journal import Deed
from doorwright.rehearse.phone import Phone
from doorwright.rehearse.picture import show
from doorwright.rehearse.session import end_of
from doorwright.rehearse.speech import Speech


class CallUnit(Ringer, Protocol):
    """What a call unit does for whoever stands there."""

    phone: Phone

    @property
    def now_s(self) -> float:
        """The moment."""

    def write(self, deed: Deed, about: str = "") -> None:
        """Write down what happened here."""

    def speak(self, speech: Speech) -> None:
        """Say what is said in a call, and report on what is heard."""

    def send_picture(self, speech: Speech, after_s: float, packet: bytes) -> None:
        """Send a picture of a call, later."""

    def bridge_here(self, call: int) -> None:
        """The call of ours is with the visitor at this very unit."""

    def relay_answers(self, unit: str) -> bool:
        """Say whether the unit with the relay can be told, from here."""


class Visitor:
    """Somebody at a call unit who called a number: what they see, and what the unit does for them."""

    def __init__(self, actor: CallUnit, number: str) -> None:
        """Stand there."""
        self._actor = actor
        self._number = number
        self._hunt: Hunt | None = None
        self.speech = Speech(end_of(actor.box), insists_on=actor.box.insists_on)
        self.call: int | None = None
        self.gone = False

    def begin(self) -> None:
        """Call: to the number, or to the desk that takes all calls at this hour; at some hours not at all."""
        actor, box = self._actor, self._actor.box
        if box.call_hours and not any(map(actor.inside, box.call_hours)):
            actor.write(Deed.SILENT)
            self.end()
            return
        number = next((desk for timetable, desk in box.desk_hours if actor.inside(timetable)), self._number)
        offer = self.speech.offer()
        if box.registers is None:
            self._hunt = Hunt(actor, self, number=number, entrance=box.entrance, offer=offer)
            self._hunt.begin()
        elif not number:  # nobody has given the desk a number
            self.take_refusal(NOT_FOUND)
        else:
            registers = box.registers
            target = f"sip:{quote(number)}@{registers.address}:{registers.port}"
            self.call = actor.phone.invite(target, offer=offer, now_s=actor.now_s)

    def hear_ringing(self) -> None:
        """It rings somewhere."""

    def take_answer(self, answer: bytes) -> None:
        """Somebody is there."""
        self.speech.answered(answer)
        self._actor.speak(self.speech)
        show(self.speech.picture, partial(self._actor.send_picture, self.speech))
        if self._hunt is not None and self._hunt.taken is not None:
            self.call = self._hunt.taken
            self._actor.bridge_here(self.call)

    def take_refusal(self, code: int) -> None:
        """Nobody is there."""
        self._actor.write(Deed.REFUSED, str(code))
        self.end()

    def hear_key(self, key: str, form: KeyForm) -> None:
        """The one who answered pressed a key: free the door that it asks for, if they may."""
        box = self._actor.box
        number = self.speech.other.partition("-")[0]
        for release in box.releases if form in box.hears and not self.gone else ():
            may = any(
                number in one.numbers and (one.timetable is None or self._actor.inside(one.timetable))
                for one in release.freers
            )
            if release.digit == key and may and release.relay is not None and self._actor.relay_answers(release.relay):
                self._actor.write(Deed.FREED, f"{release.digit} {release.door}")
                if release.lock is not None and not release.lock.opens():
                    self._actor.write(Deed.HELD, f"{release.digit} {release.door}")

    def leave(self) -> None:
        """The visitor has waited long enough."""
        if self.gone:
            return
        if self._hunt is not None:
            self._hunt.give_up()
        elif self.call is not None:
            self._actor.phone.hang_up(self.call, now_s=self._actor.now_s)
        self.end()

    def end(self) -> None:
        """The call is over."""
        if not self.gone:
            self.gone = True
            self._actor.write(Deed.ENDED)
