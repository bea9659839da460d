"""What counts of the records of one task."""

from datetime import UTC, datetime, timedelta

from doorwright.kernel.work import Deed, Progress, Quantity, WorkRecord, progress_by_task

NOON = datetime(2031, 3, 5, 12, tzinfo=UTC)


def record(ident: str, deed: Deed, *, min_later: int = 0, value: str = "", **facts: object) -> WorkRecord:
    at = NOON + timedelta(minutes=min_later)
    there = {"task": "test/call/v1", "received_at": at, "by": "Ada", **facts}
    return WorkRecord(id=ident, deed=deed, value=value, done_at=at, **there)  # type: ignore[arg-type]


def progress(*records: WorkRecord) -> Progress:
    return Progress(records=records)


def test_nothing_recorded_is_not_done() -> None:
    assert not progress().is_done
    assert progress().settled is None
    assert progress().spent_s == 0


def test_the_latest_by_the_clock_on_site_counts_whenever_it_was_sent() -> None:
    # the phone in the cellar ticked at 12:00 and was heard an hour after the one in the attic took it back at 12:05
    taken_back = record("b", Deed.NOT_DONE, min_later=5)
    done = record("a", Deed.DONE, received_at=NOON + timedelta(minutes=60))
    assert not progress(taken_back, done).is_done
    assert progress(done, record("c", Deed.NOTE, min_later=9, value="x"), taken_back).settled == taken_back


def test_a_clock_that_runs_years_ahead_does_not_have_the_last_word_for_ever() -> None:
    ahead = record("a", Deed.DONE, received_at=NOON)
    ahead = WorkRecord(
        id="a", task=ahead.task, deed=Deed.DONE, done_at=NOON.replace(year=2041), received_at=NOON, by="Ada"
    )
    assert progress(ahead).is_done
    assert not progress(ahead, record("b", Deed.NOT_DONE, min_later=1)).is_done


def test_of_two_at_one_moment_the_later_sent_counts() -> None:
    assert not progress(record("a", Deed.DONE), record("b", Deed.NOT_DONE)).is_done
    assert progress(record("b", Deed.NOT_DONE), record("a", Deed.DONE)).is_done


def test_a_corrected_record_counts_no_more_and_is_still_there() -> None:
    # 540 s + 60 s, the 60 s corrected to 120 s
    stands = progress(
        record("a", Deed.TIME, value="540"),
        record("b", Deed.TIME, value="60"),
        record("c", Deed.TIME, value="120", corrects="b"),
    )
    assert stands.spent_s == 660
    assert [one.id for one in stands.counting] == ["a", "c"]
    assert len(stands.records) == 3


def test_records_are_told_in_words() -> None:
    assert str(record("a", Deed.TIME, value="754")) == "12 min 34 s spent"  # 12 * 60 + 34
    assert str(record("a", Deed.READING, value="11.6", quantity=Quantity.LOCK_VOLTAGE)) == "voltage at the lock: 11.6 V"
    assert str(record("a", Deed.NOTE, value="lid loose")) == "lid loose"
    assert str(record("a", Deed.DONE)) == "done"


def test_the_same_said_again_is_the_same_whenever_it_is_received() -> None:
    one = record("a", Deed.DONE)
    assert one.says_the_same(record("a", Deed.DONE, received_at=NOON + timedelta(days=1)))
    assert not one.says_the_same(record("a", Deed.NOT_DONE))


def test_records_are_gathered_by_task() -> None:
    found = progress_by_task((record("a", Deed.DONE), record("b", Deed.DONE, task="test/call/v2")))
    assert {task: [one.id for one in stands.records] for task, stands in found.items()} == {
        "test/call/v1": ["a"],
        "test/call/v2": ["b"],
    }
