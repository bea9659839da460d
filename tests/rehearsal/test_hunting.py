"""The call control of one box: stages, busy, absent, diverts, rounds; expected by docs/explain/call-paths.md."""

from collections.abc import Callable
from dataclasses import dataclass, field

from doorwright.model.calling import DivertCause
from doorwright.rehearse.box import Box, Ringing, Role, Sending
from doorwright.rehearse.hunt import Came, Hunt
from doorwright.rehearse.wire import Jack

JACK = Jack(address="192.0.2.2", cidr="192.0.2.0/24", gateway=None, segment=None, mac="00-00-5E-00-53-02")


@dataclass
class Table:
    """Everything around a hunt: bells that the test rings out by hand, and a clock that it moves."""

    box: Box
    absent: frozenset[str] = frozenset()
    open_hours: frozenset[str] = frozenset()
    rung: list[str] = field(default_factory=list)
    stopped: int = 0
    later: list[tuple[float, Callable[[], None]]] = field(default_factory=list)
    answer: bytes | None = None
    code: int | None = None

    def ring(self, hunt: Hunt, user: str) -> int:
        del hunt
        if user in self.absent:
            return 0
        self.rung.append(user)
        return 1

    def stop_ringing(self, hunt: Hunt) -> None:
        del hunt
        self.stopped += 1

    def after(self, delay_s: float, act: Callable[[], None]) -> None:
        self.later.append((delay_s, act))

    def inside(self, timetable: str) -> bool:
        return timetable in self.open_hours

    def hear_ringing(self) -> None:
        pass

    def take_answer(self, answer: bytes) -> None:
        self.answer = answer

    def take_refusal(self, code: int) -> None:
        self.code = code

    def time_passes(self) -> None:
        later, self.later = self.later, []
        for _, act in later:
            act()


def table(*, absent: str = "", hours: str = "", **sending: tuple[Sending, ...]) -> Table:
    ringing = {
        "1": (Ringing(("1", "1-1"), 20.0),),
        "2": (Ringing(("2",), 15.0), Ringing(("2-1",), 15.0)),
        "9": (Ringing(("9",), None),),
    }
    box = Box(
        id="b", name="B", role=Role.VCU, jack=JACK, user="b", ringing=ringing,
        sending={number.removeprefix("n"): lines for number, lines in sending.items()},
    )  # fmt: skip
    return Table(box, absent=frozenset(absent.split()), open_hours=frozenset(hours.split()))


def begun(around: Table, number: str, entrance: str | None = "gate") -> Hunt:
    hunt = Hunt(around, around, number=number, entrance=entrance, offer=b"offer")
    hunt.begin()
    return hunt


def to(cause: DivertCause, target: str | None, *, entrance: str | None = None, hours: str | None = None) -> Sending:
    return Sending(cause, entrance, hours, target)


def test_all_ring_at_once_and_the_first_who_answers_ends_the_others() -> None:
    around = table()
    hunt = begun(around, "1")
    assert around.rung == ["1", "1-1"]
    hunt.take(b"answer")
    assert (around.answer, around.stopped) == (b"answer", 1)
    hunt.take(b"too late")
    assert around.answer == b"answer"


def test_in_turn_each_rings_for_its_seconds() -> None:
    around = table()
    begun(around, "2")
    assert (around.rung, around.later[0][0]) == (["2"], 15.0)
    around.time_passes()
    assert around.rung == ["2", "2-1"]
    around.time_passes()
    assert around.code == 480


def test_busy_is_busy_only_where_all_are() -> None:
    around = table()
    hunt = begun(around, "1")
    hunt.bell_ended(Came.BUSY)
    codes = [around.code]
    hunt.bell_ended(Came.BUSY)
    codes.append(around.code)
    assert codes == [None, 486]
    around = table()
    hunt = begun(around, "1")
    hunt.bell_ended(Came.BUSY)
    hunt.bell_ended(Came.SILENT)
    assert around.code == 480


def test_each_cause_leads_on_by_itself() -> None:
    lines = (to(DivertCause.BUSY, "2"), to(DivertCause.NO_ANSWER, "9"), to(DivertCause.NOT_REGISTERED, "2"))
    around = table(n1=lines)
    begun(around, "1")
    around.time_passes()
    assert around.rung == ["1", "1-1", "9"]
    around = table(n1=lines)
    hunt = begun(around, "1")
    hunt.bell_ended(Came.BUSY)
    hunt.bell_ended(Came.BUSY)
    assert around.rung == ["1", "1-1", "2"]
    around = table(absent="1 1-1", n1=lines)
    begun(around, "1")
    assert around.rung == ["2"]


def test_one_who_is_absent_does_not_keep_the_other_from_ringing() -> None:
    around = table(absent="1", n1=(to(DivertCause.NOT_REGISTERED, "9"), to(DivertCause.NO_ANSWER, "2")))
    begun(around, "1")
    assert around.rung == ["1-1"]
    around.time_passes()
    assert around.rung == ["1-1", "2"]


def test_always_rings_elsewhere_at_its_entrance_and_inside_its_hours_alone() -> None:
    lines = (to(DivertCause.ALWAYS, "9", entrance="gate", hours="office"),)
    around = table(hours="office", n1=lines)
    begun(around, "1")
    assert around.rung == ["9"]
    around = table(n1=lines)
    begun(around, "1")
    assert around.rung == ["1", "1-1"]
    around = table(hours="office", n1=lines)
    begun(around, "1", entrance="porch")
    assert around.rung == ["1", "1-1"]


def test_the_first_line_that_holds_wins() -> None:
    around = table(n1=(to(DivertCause.ALWAYS, "2", hours="night"), to(DivertCause.ALWAYS, "9")))
    begun(around, "1")
    assert around.rung == ["9"]


def test_a_round_ends_and_a_divert_to_nobody_rings_nobody() -> None:
    around = table(n1=(to(DivertCause.ALWAYS, "2"),), n2=(to(DivertCause.ALWAYS, "1"),))
    begun(around, "1")
    assert (around.rung, around.code) == ([], 482)
    around = table(n1=(to(DivertCause.ALWAYS, None),))
    begun(around, "1")
    assert (around.rung, around.code) == ([], 404)


def test_nobody_rings_for_a_number_that_nobody_has() -> None:
    around = table()
    begun(around, "77")
    assert (around.rung, around.code) == ([], 404)


def test_whoever_called_and_left_is_called_no_more() -> None:
    around = table(n1=(to(DivertCause.NO_ANSWER, "9"),))
    hunt = begun(around, "1")
    hunt.give_up()
    around.time_passes()
    assert (around.rung, around.stopped, around.code) == (["1", "1-1"], 1, None)
