"""Test calls to the rehearsed building on the wire, with its reports (RFC 3550 §6.4): speech both ways, or one way."""

from collections.abc import Callable, Iterator

import pytest

from doorwright.app.call_rehearsed import call_rehearsed
from doorwright.app.call_unit import CalledUnit
from doorwright.app.means import Means
from doorwright.app.plan_book import plan_book
from doorwright.app.tell_over_sip import call_notes, call_rows, call_words
from doorwright.model.aspect import Aspect
from doorwright.probe.call import CallManner
from tests.rehearsal import on_wire
from tests.rehearsal.yard import YARD

PORTS = on_wire.ports()
MEANS = Means(who="A. Fitter")
MANNER = CallManner(patience_s=5.0, ring_s=5.0, talk_s=3.0)
Called = Callable[[str], CalledUnit]


@pytest.fixture(scope="module")
def called(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Called]:
    on_wire.need_loopback_addresses()
    book = on_wire.book_of(YARD, tmp_path_factory.mktemp("speech"))
    plan_book(book, MEANS, None)

    def call(name: str) -> CalledUnit:
        return call_rehearsed(book, MEANS, name=name, ports=PORTS, manner=MANNER)

    faults = ("--fault", "speech-blocked:Receiver 2", "--fault", "codec-kept:Receiver 3")
    with on_wire.OnWire(book, PORTS, *faults):
        yield call


def speech(one: CalledUnit) -> list[str | None]:
    """Return what was seen of the speech where it differs from the plan."""
    return [line.rehearsed for line in one.compared.lines if line.aspect == Aspect.SPEECH]


def test_a_good_unit_reports_what_it_heard(called: Called) -> None:
    """Nothing is lost on loopback. ITU-T G.107: 93.2 at the most, less for delay. A unit sends three packets."""
    one = called("Receiver 1")
    heard, told = one.called.heard, one.called.told
    assert heard is not None
    assert told is not None
    assert (heard.lost_count, told.lost_count) == (0, 0)
    assert 50 <= told.expected_count <= one.called.sent_count  # its last report came after two seconds of 20 ms packets
    assert one.called.round_trip_ms is not None
    assert 0.0 <= one.called.round_trip_ms < 200.0
    assert one.to_them is not None
    assert 80.0 < one.to_them.rating_points <= 93.2
    assert speech(one) == []
    assert call_words(one.called) == "Taken, and hung up."


def test_a_unit_to_which_speech_is_blocked_says_so_in_its_reports(called: Called) -> None:
    """Its own speech comes; a report without a block about us is that of one who heard nothing (RFC 3550 §6.4.1)."""
    one = called("Receiver 2")
    assert one.called.heard is not None
    assert one.called.told is not None
    assert one.called.told.expected_count == 0
    assert one.to_them is None
    assert speech(one) == ["none"]
    assert "not come through both ways" in call_words(one.called)
    assert any("does not get there" in note for note in call_notes(one))
    assert call_rows(one)[1][:2] == ("to the unit, as it reports", "0")


def test_a_codec_that_was_not_agreed_is_heard_by_nobody(called: Called) -> None:
    """It sends G.723, payload type 4 (RFC 3551 Table 4), which was not offered; it hears us all the same."""
    one = called("Receiver 3")
    assert one.called.heard is None
    assert one.called.strange == (4,)
    assert one.called.told is not None
    assert one.called.told.expected_count > 0
    assert speech(one) == ["none"]
    assert any("payload type 4" in note for note in call_notes(one))
