"""Who rings from which second to which: sums written out by hand."""

from doorwright.model.calling import DivertCause
from doorwright.paths.call import CALLED, Call, End, Stage, Target, TargetKind
from doorwright.paths.sequence import steps

DESK = Target(TargetKind.DESK, "desk")
NO_ANSWER, BUSY, NOT_REGISTERED = DivertCause.NO_ANSWER, DivertCause.BUSY, DivertCause.NOT_REGISTERED


def test_receivers_in_turn_add_up_and_no_answer_comes_after_the_last() -> None:
    desk = Call(End.RINGS, DESK, (Stage(None, 30),))
    call = Call(End.RINGS, CALLED, (Stage(0, 20), Stage(1, 20)), no_answer=desk)
    # 0-20 the first, 20-40 the second, then the desk 40-70
    assert [(s.start_s, s.end_s, s.nth, s.causes) for s in steps(call)] == [
        (0, 20, 0, ()),
        (20, 40, 1, ()),
        (40, 70, None, ((NO_ANSWER,),)),
    ]


def test_busy_and_not_registered_go_on_at_once_and_are_told_together_where_alike() -> None:
    desk = Call(End.RINGS, DESK, (Stage(None, 30),))
    call = Call(End.RINGS, CALLED, (Stage(None, 25),), no_answer=desk, busy=desk, not_registered=desk)
    assert [(s.start_s, s.end_s, s.causes) for s in steps(call)] == [
        (0, 25, ()),
        (25, 55, ((NO_ANSWER,),)),
        (0, 30, ((BUSY, NOT_REGISTERED),)),
    ]


def test_branches_of_branches_keep_the_way_and_ends_take_no_time() -> None:
    lost = Call(End.NOBODY)
    other = Call(End.RINGS, Target(TargetKind.DWELLING, "x"), (Stage(None, 15),), no_answer=lost)
    call = Call(End.UNHEARD, CALLED, (), not_registered=other)
    found = steps(call)
    assert [(s.start_s, s.end_s, s.call.end) for s in found] == [
        (0, 0, End.UNHEARD),
        (0, 15, End.RINGS),
        (15, 15, End.NOBODY),
    ]
    assert found[-1].causes == ((NOT_REGISTERED,), (NO_ANSWER,))
