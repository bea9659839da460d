"""The four machines of the session protocol and their timers, drawn from the tables that run."""

from collections.abc import Iterator
from typing import Final

from doorwright.sip.machines import MACHINES, Action, Again, Cell, Machine, Start, State, Stop
from doorwright.sip.timers import FIGURES, Timer, Times, first_wait_s
from generators import markdown
from generators.markdown import Raw, cell, code, plain, table

_INTRO: Final = """
A transaction is one request with all that is said about it on one hop. RFC 3261 §17 knows four kinds, corrected by RFC
6026. The tables below are those that run: for each state the events that mean something there (a message, a response
from who uses the transaction, a timer, or an error in sending), what is done, in order, and the next state, in bold
where it is another. What stands in no table changes nothing: such a message is absorbed, such a response discarded.
"""
_TIMERS: Final = """
The lengths are those with T1 = 500 ms, T2 = 4 s and T4 = 5 s (RFC 3261 table 4). A timer with a dash is not started
over TCP, where nothing is sent again. Timer C belongs to a proxy: it lets an INVITE ring for more than three minutes.
"""


def page() -> str:
    """Return the page."""
    blocks = [block for machine in MACHINES for block in _machine(machine)]
    return markdown.page("Machines of the session protocol", _INTRO, *blocks, *_timers())


def _machine(machine: Machine) -> Iterator[str]:
    yield f"## {machine.name[0].upper()}{machine.name[1:]}"
    yield f"{plain(machine.clause)}. It begins: {_did(machine.begin)}, and is then in **{machine.begin.state}**."
    for state in machine.states:
        if state is not State.TERMINATED:
            rows = [
                (
                    event if not isinstance(event, Timer) else f"Timer {event}",
                    *_told(state, machine.cells[state, event]),
                )
                for event in machine.events
                if (state, event) in machine.cells
            ]
            yield f"### {state}"
            yield table(("event", "what is done", "next state"), rows)


def _told(state: State, one: Cell) -> tuple[Raw, Raw]:
    after = Raw(f"**{one.state}**") if one.state is not state else Raw(one.state)
    return Raw(_did(one)), after


def _did(one: Cell) -> str:
    return cell("; ".join(map(_action, one.actions)) or "nothing")


def _action(action: Action) -> str:
    match action:
        case Start(timer):
            return f"start {timer}"
        case Stop(timer):
            return f"stop {timer}"
        case Again(timer, longest):
            return f"start {timer} again with {'T2' if longest else 'its next wait'}"
        case _:
            return str(action)


def _timers() -> Iterator[str]:
    yield "## Timers"
    yield _TIMERS
    times = Times()
    yield table(
        ("timer", "over UDP", "first, over UDP", "first, over TCP", "what for", "source"),
        [
            (
                code(timer),
                figure.formula,
                _seconds(first_wait_s(timer, times, reliable=False)),
                _seconds(first_wait_s(timer, times, reliable=True)),
                figure.meaning,
                figure.clause,
            )
            for timer, figure in FIGURES.items()
        ],
    )


def _seconds(wait_s: float | None) -> str:
    return "–" if wait_s is None else f"{wait_s:g} s"
