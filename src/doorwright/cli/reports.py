"""What several commands say of the same results."""

from collections.abc import Callable, Iterable, Sequence
from itertools import groupby
from pathlib import Path
from typing import Final, TypeVar

from doorwright.app.check_book import Checked
from doorwright.app.plan_book import Planned
from doorwright.app.take_in import TakenIn
from doorwright.cli.printer import Printer
from doorwright.kernel.words import counted_all
from doorwright.model.label import natural_key

T = TypeVar("T")

_REMARKS_MOST: Final = 12
_FINDINGS_MOST: Final = 8
_NAMES_MOST: Final = 4


def print_taken_in(printer: Printer, taken_in: TakenIn) -> None:
    """Print what came of a workbook."""
    if taken_in.tallies:
        printer.line(f"Revision {taken_in.revision}: {counted_all(taken_in.counts)}")
    else:
        printer.line(f"Nothing differs; revision {taken_in.revision} stands.")
    print_remarks(printer, "Changed on reading", taken_in.remarks)


def print_remarks(printer: Printer, heading: str, remarks: Sequence[object]) -> None:
    """Print the first few remarks under a heading, and how many more there are."""
    if not remarks:
        return
    printer.heading(heading)
    for remark in remarks[:_REMARKS_MOST]:
        printer.line(f"  {remark}")
    more = len(remarks) - _REMARKS_MOST
    if more > 0:
        printer.line(f"  and {more} more (all with --json)")


def print_planned(printer: Printer, planned: Planned) -> None:
    """Print what planning gave."""
    issued = counted_all(planned.issued)
    printer.heading(f"Planned, revision {planned.revision}")
    printer.line(f"Issued: {issued}" if issued else "Nothing was missing; nothing moved.")
    for trouble in planned.troubles:
        printer.line(f"Not planned: {trouble.problem}. {trouble.remedy}")


def print_assessment(printer: Printer, checked: Checked, *, all_findings: bool = False) -> None:
    """Print what the rules say: findings by severity, what was not checked and why, and the count of each.

    Unless ``all_findings`` are wanted, the first few of each rule stand for the rest, with those that came back because
    a waiver ended.
    """
    assessment = checked.assessment
    counts = counted_all({severity.value: count for severity, count in assessment.by_severity().items()})
    printer.heading(f"Checked, revision {checked.revision}: {counts}")
    back = {finding for finding, _ in assessment.came_back}
    rows: list[tuple[str, ...]] = []
    for rule, group in groupby(assessment.findings, key=lambda finding: finding.rule):
        findings = list(group)
        came_back = [finding for finding in findings[_FINDINGS_MOST:] if finding in back]
        shown = findings if all_findings else findings[:_FINDINGS_MOST] + came_back
        rows += [(finding.severity, rule, finding.message) for finding in shown]
        if len(shown) < len(findings):
            rows.append((findings[0].severity, rule, f"and {len(findings) - len(shown)} more (check --all)"))
    if rows:
        printer.table(("severity", "rule", "finding"), rows)
    for finding, waiver in assessment.waived:
        printer.line(f"waived until {waiver.until} by {waiver.by}: {finding.message} ({waiver.reason})")
    missing = assessment.by_missing()
    if missing:
        printer.heading("Could not be checked, by what is missing")
        rows = []
        for what, verdicts in missing.items():
            names = sorted({checked.labels[s] for v in verdicts for s in v.subjects}, key=natural_key)
            more = f" and {len(names) - _NAMES_MOST} more" if len(names) > _NAMES_MOST else ""
            rules = ", ".join(dict.fromkeys(verdict.rule for verdict in verdicts))
            rows.append((str(what), str(len(names)), ", ".join(names[:_NAMES_MOST]) + more, rules))
        printer.table(("missing", "parts", "which", "rules that wait"), rows)
    printer.line()
    printer.line(
        f"Checked {assessment.judged_count}, failed {len(assessment.findings)}, waived {len(assessment.waived)}, "
        f"could not check {len(assessment.not_checked)}."
    )


def print_list(
    printer: Printer, listed: Sequence[T], headings: Sequence[str], row: Callable[[T], Sequence[str]], *, none: str
) -> None:
    """Print what a book keeps as a table, one row each, or ``none`` where it keeps nothing."""
    printer.result(listed)
    if listed:
        printer.table(headings, map(row, listed))
    else:
        printer.line(none)


def print_files(printer: Printer, files: Iterable[Path]) -> None:
    """Print the files written, with their sizes."""
    rows = [(str(path), f"{path.stat().st_size / 1024:,.0f} KiB") for path in files]
    printer.table(("file", "size"), rows, title="Written")
