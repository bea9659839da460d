"""An actor: one box of the rehearsed building, live: it registers, rings, routes, talks and frees doors."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from functools import partial
from typing import Final

from doorwright.paths.week import AXIS_MIN, WEEK_MIN
from doorwright.rehearse.box import Box, KeyForm
from doorwright.rehearse.front_desk import ASKED_S, FrontDesk
from doorwright.rehearse.hunt import NOT_ACCEPTABLE, Came, Hunt
from doorwright.rehearse.journal import Deed, Entry, Journal
from doorwright.rehearse.phone import Phone
from doorwright.rehearse.picture import is_seen
from doorwright.rehearse.session import answer_of, end_of
from doorwright.rehearse.speech import REPORTS_AFTER_S, Speech
from doorwright.rehearse.visitor import Visitor
from doorwright.rehearse.wire import Carrier, Spot
from doorwright.rehearse.world import Time

BUSY_CODE: Final = 486
FORBIDDEN: Final = 403
_CAME_BY_CODE: Final = {BUSY_CODE: Came.BUSY, NOT_ACCEPTABLE: Came.UNSUITED}
ANSWERS_AFTER_S: Final = 2.0
FIRST_KEY_AFTER_S: Final = 1.0
KEY_EVERY_S: Final = 0.5
_SPEAKS_AFTER_S: Final = 0.2
RETRY_S: Final = 120.0
"""How long a unit waits before it tries to register again (our own choice)."""
_RENEWED_AFTER: Final = 0.9
"""When a unit registers anew, as a share of the time for which it is registered (our own choice)."""
_HERE: Final = 0
_DAY_MIN: Final = 1440


class Mood(Enum):
    """What whoever is at a receiver does with a call."""

    ANSWERS = "answers"
    LETS_RING = "lets it ring"
    IS_BUSY = "is busy"


@dataclass(slots=True)
class Stage:
    """What all actors share: the clock, the wire, the journal, the hour on the wall, and how to reach a relay."""

    world: Time
    wire: Carrier
    journal: Journal
    minute: int = 0
    relay_answers: Callable[[Box, str], bool] = lambda _box, _unit: False
    lapsed: frozenset[str] = frozenset()
    asked_s: int = ASKED_S
    """For how long units ask to be registered."""


class Actor:
    """One box, live."""

    def __init__(self, box: Box, stage: Stage) -> None:
        """Set the box up; ``begin`` starts it."""
        self.box = box
        self._stage = stage
        self.mood = Mood.LETS_RING
        self._entrance_of = {one.user: one.entrance for one in box.admits}
        self._chance = stage.world.chance(box.id).randbytes
        self.starts_count = 0
        self._wake_up()

    def _wake_up(self) -> None:
        """Forget everything but what is entered, as at each start."""
        box = self.box
        self.up = True
        self.registered: bool | None = None if box.registers is None else False
        self.answered_code: int | None = None
        self.desk = FrontDesk(box, chance=self._chance) if box.admits or box.room else None
        self.phone = Phone(box, listener=self, chance=self._chance)
        self._bells: dict[int, Hunt] = {}
        self._local: Hunt | None = None
        self._hunts: dict[int, Hunt] = {}  # by the caller's call
        self._bridge: dict[int, int] = {}
        self._talk: Speech | None = None
        self._talk_with: int | None = None
        self._visitor: Visitor | None = None
        self._waked_s: float | None = None
        self._pressed_count = 0

    # time and wire

    def begin(self) -> None:
        """Start: register, where there is something to register with."""
        if self.box.registers is not None and self.box.jack.link:
            self._try_to_register()

    def switch_off(self) -> None:
        """Lose power: registrations, calls and what was about to happen are gone."""
        if self.up:
            self.up = False
            if self.registered:
                self.registered = False
            self._write(Deed.WENT_OFF)

    def switch_on(self) -> None:
        """Get power again, and start."""
        if not self.up:
            attempts = self.desk.attempts if self.desk is not None else []
            self.starts_count += 1
            self._wake_up()
            if self.desk is not None:
                self.desk.attempts = attempts
            self._write(Deed.CAME_ON)
            self.begin()

    def receive(self, data: bytes, *, source: Spot, port: int) -> None:
        """Take a packet."""
        if not self.up:
            return
        now_s = self._stage.world.now_s
        if port in (self.box.media_port, self.box.report_port):
            if not self.box.deaf:
                self._hear(data, now_s, reported=port == self.box.report_port)
        elif port == self.box.picture_port:
            self._look(data)
        elif port == self.box.sip_port:
            if data.startswith(b"REGISTER ") and self.desk is not None:
                self.desk.receive(data, source=source, now_s=now_s)
            else:
                self.phone.receive(data, source=source, now_s=now_s)
        self._settle()

    def after(self, delay_s: float, act: Callable[[], None]) -> None:
        """Arrange that this actor does something later."""
        life = self.starts_count

        def do() -> None:
            if self.up and life == self.starts_count:
                act()
                self._settle()

        self._stage.world.at(self._stage.world.now_s + delay_s, do)

    def inside(self, timetable: str) -> bool:
        """Say whether this box's own clock is inside a timetable; one that it does not keep never holds."""
        minute = _late(self._stage.minute, self.box.clock_late_min)
        return any(start <= minute < end for start, end in self.box.hours.get(timetable, ()))

    def _settle(self) -> None:
        """Tell what the phone has to tell, send what is to be sent, and be woken in time."""
        world = self._stage.world
        self.phone.tell(world.now_s)
        out = self.phone.datagrams()
        if self.desk is not None:
            out += self.desk.transactions.datagrams_to_send()
        for data, to in out:
            self._stage.wire.send(data, jack=self.box.jack, source_port=self.box.sip_port, to=to)
        due_s = [due for due in (self.phone.timer_at(), self._desk_at()) if due is not None]
        if due_s and (self._waked_s is None or min(due_s) < self._waked_s):
            self._waked_s = min(due_s)
            world.at(self._waked_s, partial(self._wake, self.starts_count))

    def _desk_at(self) -> float | None:
        return self.desk.transactions.timer_at() if self.desk is not None else None

    def _wake(self, life: int) -> None:
        if not self.up or life != self.starts_count:
            return
        now_s = self._stage.world.now_s
        if self._waked_s is not None and self._waked_s <= now_s:
            self._waked_s = None
        self.phone.handle_timer(now_s)
        if self.desk is not None:
            self.desk.transactions.handle_timer(now_s)
        self._settle()

    def _write(self, deed: Deed, about: str = "") -> None:
        self._stage.journal.write(Entry(self._stage.world.now_s, deed, self.box.id, about))

    # registering

    def _try_to_register(self) -> None:
        registers = self.box.registers
        if registers is not None:
            self.phone.register(registers, asked_s=self._stage.asked_s, now_s=self._stage.world.now_s)
            self._settle()

    def on_registered(self, code: int, holds_s: int | None) -> None:
        """The registrar answered and says for how long that holds, or nobody did (408)."""
        was, self.answered_code = self.answered_code, code
        self.registered = 200 <= code < 300
        if self.registered:
            if was != code:
                self._write(Deed.REGISTERED)
            self.after((holds_s or ASKED_S) * _RENEWED_AFTER, self._try_to_register)
        else:
            if was != code:
                self._write(Deed.NOT_REGISTERED, str(code))
            self.after(RETRY_S, self._try_to_register)

    # calling in: what the other side of the wire does

    def on_invited(self, call: int, *, called: str, caller: str, offer: bytes) -> None:
        """Somebody calls a number that this box routes or answers.

        What routes calls takes them from who is registered with it; a receiver takes them from its registrar.
        """
        if self.box.registers is None and not self._is_registered_here(caller):
            self.phone.refuse(call, FORBIDDEN, now_s=self._stage.world.now_s)
            return
        hunt = Hunt(self, _Remote(self, call), number=called, entrance=self._entrance_of.get(caller), offer=offer)
        self._hunts[call] = hunt
        hunt.begin()

    def _is_registered_here(self, user: str) -> bool:
        return self.desk is not None and bool(self.desk.bindings_of(user, now_s=self._stage.world.now_s))

    def on_ringing(self, call: int) -> None:
        """It rings at the other end of a call of ours."""
        if call in self._bells:
            self._bells[call].rings()
        elif self._visitor is not None and call == self._visitor.call:
            self._visitor.hear_ringing()

    def on_answered(self, call: int, answer: bytes) -> None:
        """A call of ours was taken."""
        hunt = self._bells.pop(call, None)
        if hunt is not None:
            hunt.taken = call
            hunt.take(answer)
        elif self._visitor is not None and call == self._visitor.call:
            self._visitor.take_answer(answer)

    def on_refused(self, call: int, code: int) -> None:
        """A call of ours came to nothing."""
        hunt = self._bells.pop(call, None)
        if hunt is not None:
            hunt.bell_ended(_CAME_BY_CODE.get(code, Came.SILENT))
        elif self._visitor is not None and call == self._visitor.call:
            self._visitor.take_refusal(code)

    def on_informed(self, call: int, key: str) -> None:
        """A key was told within a call."""
        other = self._bridge.get(call)
        if other is not None and other != _HERE:
            self.phone.inform(other, key, now_s=self._stage.world.now_s)
        elif self._visitor is not None and (other == _HERE or call == self._visitor.call):
            self._visitor.hear_key(key, KeyForm.INFO)

    def on_ended(self, call: int) -> None:
        """A call is over."""
        hunt = self._hunts.pop(call, None)
        if hunt is not None:
            hunt.give_up()
        if call == self._talk_with:
            self._talk, self._talk_with = None, None
        other = self._bridge.pop(call, None)
        if other is not None and other != _HERE:
            self._bridge.pop(other, None)
            self._hunts.pop(other, None)
            self.phone.hang_up(other, now_s=self._stage.world.now_s)
        elif self._visitor is not None and (other == _HERE or call == self._visitor.call):
            self._visitor.end()

    # ringing: what a hunt asks for

    def ring(self, hunt: Hunt, user: str) -> int:
        """Ring a user, or whoever is here, and return how many bells that began."""
        if user == "":
            self._ring_here(hunt)
            return 1
        now_s = self._stage.world.now_s
        known = self.desk is not None and user not in self._stage.lapsed
        bindings = self.desk.bindings_of(user, now_s=now_s) if self.desk is not None and known else ()
        for binding in bindings:
            call = self.phone.invite(str(binding.uri), offer=hunt.offer, now_s=now_s)
            self._bells[call] = hunt
        return len(bindings)

    def _ring_here(self, hunt: Hunt) -> None:
        if self.mood is Mood.IS_BUSY or self._talk is not None:
            self.after(0.0, lambda: hunt.bell_ended(Came.BUSY))
            return
        if answer_of(end_of(self.box), hunt.offer) is None:
            self._write(Deed.REFUSED, str(NOT_ACCEPTABLE))
            self.after(0.0, lambda: hunt.bell_ended(Came.UNSUITED))
            return
        self._local = hunt
        if not self.box.muted:
            self._write(Deed.RANG)
        hunt.rings()
        if self.mood is Mood.ANSWERS and not self.box.muted:
            self.after(ANSWERS_AFTER_S, lambda: self._pick_up(hunt))

    def stop_ringing(self, hunt: Hunt) -> None:
        """End everything that rings for this hunt."""
        if self._local is hunt:
            self._local = None
        for call in [call for call, one in self._bells.items() if one is hunt]:
            del self._bells[call]
            self.phone.hang_up(call, now_s=self._stage.world.now_s)

    def _pick_up(self, hunt: Hunt) -> None:
        if hunt.over or self._local is not hunt:
            return
        speech = Speech(end_of(self.box), insists_on=self.box.insists_on)
        answer = speech.answer(hunt.offer)
        if answer is None:
            hunt.bell_ended(Came.SILENT)
            return
        self._talk = speech
        self._write(Deed.TOOK)
        hunt.taken = _HERE
        hunt.take(answer)
        self.after(_SPEAKS_AFTER_S, lambda: self.speak(speech))
        for place, digit in enumerate(self.box.digits, start=1):
            self.after(FIRST_KEY_AFTER_S + place * KEY_EVERY_S, partial(self._press, speech, digit))
        self.after(FIRST_KEY_AFTER_S + (len(self.box.digits) + 3) * KEY_EVERY_S, lambda: self._put_down(speech))

    def _press(self, speech: Speech, digit: str) -> None:
        if self._talk is not speech or self._talk_with is None:
            return
        if self.box.says is KeyForm.INFO:
            self.phone.inform(self._talk_with, digit, now_s=self._stage.world.now_s)
            return
        self._pressed_count += 1
        place, timestamp = self._pressed_count * 16 % 65536, self._pressed_count * 8000
        speech.press(digit, sequence=place, timestamp=timestamp, send=partial(self._send_speech, speech))

    def speak(self, speech: Speech) -> None:
        """Say what is said in a call, and report on what is heard."""
        speech.say(partial(self._send_speech, speech))
        if speech.agreed is not None:
            self.after(REPORTS_AFTER_S, lambda: self._send_report(speech))

    def _send_speech(self, speech: Speech, after_s: float, packet: bytes) -> None:
        agreed = speech.agreed
        if agreed is not None:
            to, jack, wire = (agreed.address, agreed.port), self.box.jack, self._stage.wire
            port = self.box.media_port
            self.after(after_s, lambda: wire.send(speech.numbered(packet), jack=jack, source_port=port, to=to))

    def _send_report(self, speech: Speech) -> None:
        agreed, box, wire = speech.agreed, self.box, self._stage.wire
        if agreed is not None:
            told, to = speech.report(REPORTS_AFTER_S, now_s=self.now_s), (agreed.address, agreed.control_port)
            wire.send(told, jack=box.jack, source_port=box.report_port, to=to)

    def send_picture(self, speech: Speech, after_s: float, packet: bytes) -> None:
        """Send a picture of a call, later."""
        agreed = speech.picture
        if agreed is not None:
            to, box, wire = (agreed.address, agreed.port), self.box, self._stage.wire
            self.after(after_s, lambda: wire.send(packet, jack=box.jack, source_port=box.picture_port, to=to))

    def _put_down(self, speech: Speech) -> None:
        if self._talk is speech and self._talk_with is not None:
            call, self._talk_with = self._talk_with, None
            self._talk = None
            self._bridge.pop(call, None)
            self._hunts.pop(call, None)
            self.phone.hang_up(call, now_s=self._stage.world.now_s)

    # joining the two ends of a call

    def join(self, call: int, hunt: Hunt) -> None:
        """The call that came over the wire was taken: by whoever is here, or at the end of another call."""
        self._hunts.pop(call, None)
        if hunt.taken == _HERE:
            self._talk_with = call
        elif hunt.taken is not None:
            self._bridge[call] = hunt.taken
            self._bridge[hunt.taken] = call

    def hunt_of(self, call: int) -> Hunt | None:
        """Return the hunt for a call that came over the wire."""
        return self._hunts.get(call)

    def drop(self, call: int) -> None:
        """Forget the hunt for a call that was refused."""
        self._hunts.pop(call, None)

    # visiting

    def visit(self, number: str) -> Visitor:
        """Somebody calls a number at this call unit."""
        visitor = self._visitor = Visitor(self, number)
        if not self.up:
            visitor.end()
            return visitor
        self._write(Deed.CALLED, number)
        visitor.begin()
        self._settle()
        return visitor

    def write(self, deed: Deed, about: str = "") -> None:
        """Write down what happened here."""
        self._write(deed, about)

    def bridge_here(self, call: int) -> None:
        """The call of ours is with the visitor at this very unit."""
        self._bridge[call] = _HERE

    def relay_answers(self, unit: str) -> bool:
        """Say whether the unit with the relay can be told, from here."""
        return unit == self.box.id or self._stage.relay_answers(self.box, unit)

    def _hear(self, data: bytes, now_s: float, *, reported: bool) -> None:
        speech = self._talk or (self._visitor.speech if self._visitor is not None else None)
        if speech is None:
            return
        if reported:
            speech.take_report(data, now_s=now_s)
            return
        before_count = speech.heard_count
        keys = speech.heard(data, now_s=now_s)
        if before_count == 0 and speech.heard_count:
            self._write(Deed.HEARD)
        if self._visitor is not None and speech is self._visitor.speech:
            for key in keys:
                self._visitor.hear_key(key, KeyForm.EVENT)

    def _look(self, data: bytes) -> None:
        speech = self._talk
        if speech is not None and is_seen(speech.picture, data):
            speech.seen_count += 1
            if speech.seen_count == 1:
                self._write(Deed.SAW)

    @property
    def now_s(self) -> float:
        """The moment."""
        return self._stage.world.now_s


class _Remote:
    """The caller of a hunt, at the far end of a call that came over the wire."""

    def __init__(self, actor: Actor, call: int) -> None:
        self._actor = actor
        self._call = call
        self._rang = False

    def hear_ringing(self) -> None:
        """Say that it rings, once."""
        if not self._rang:
            self._rang = True
            self._actor.phone.ring(self._call, now_s=self._actor.now_s)

    def take_answer(self, answer: bytes) -> None:
        """Pass the answer on."""
        hunt = self._actor.hunt_of(self._call)
        self._actor.phone.answer(self._call, answer, now_s=self._actor.now_s)
        if hunt is not None:
            self._actor.join(self._call, hunt)

    def take_refusal(self, code: int) -> None:
        """Pass the refusal on."""
        self._actor.drop(self._call)
        self._actor.phone.refuse(self._call, code, now_s=self._actor.now_s)


def _late(minute: int, late_min: int) -> int:
    """Return what a clock shows that is late: within the ring of the week, or within a day that stands alone."""
    if not late_min:
        return minute
    if minute < WEEK_MIN:
        return (minute - late_min) % WEEK_MIN
    day = minute // _DAY_MIN
    return min(day * _DAY_MIN + (minute - late_min) % _DAY_MIN, AXIS_MIN - 1)
