"""The page on rehearsal tells of every fault in the words of the code."""

from pathlib import Path

from doorwright.rehearse.faults import FAULTS

PAGE = Path(__file__).parents[2] / "docs" / "explain" / "rehearsal.md"


def test_every_fault_is_told_of_with_its_cause_and_what_is_seen() -> None:
    rows = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("| `")]
    assert rows == [f"| `{fault.name}` | {fault.cause} | {fault.look} |" for fault in FAULTS.values()]
