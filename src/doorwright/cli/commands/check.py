"""`check`: judge the site by every rule."""

from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.check_book import Checked, check_book
from doorwright.app.explain import explain as find_rule
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_assessment
from doorwright.kernel.verdict import Severity
from doorwright.model.label import natural_key


@options.command(name="check", example="doorwright check tower.book --fail-on warning")
@options.book
@click.option(
    "--fail-on",
    type=click.Choice([*(severity.value for severity in reversed(Severity)), "never"]),
    default=Severity.ERROR.value,
    show_default=True,
    help="Exit with 1 when there is a finding at least this severe.",
)
@click.option("--rule", help="Judge by this rule alone.")
@click.option("--all", "all_findings", is_flag=True, help="Show every finding, not the first few of each rule.")
@click.option("--vault", "open_vault", is_flag=True, help="Open the vault and judge the secrets themselves too.")
@options.passphrase_file
def check(
    printer: Printer,
    book: Path,
    fail_on: str,
    rule: str | None,
    passphrase_file: Any,
    *,
    all_findings: bool,
    open_vault: bool,
) -> int:
    """Judge the site by every rule: what does not hold, and what cannot be checked yet and why."""
    if rule is not None:
        find_rule(rule)
    passphrase = None
    if open_vault or passphrase_file is not None:
        passphrase = options.passphrase_from(passphrase_file, "Passphrase of the vault")
    with options.means(printer) as means:
        checked = check_book(book, means, passphrase, only=rule)
    printer.result({"revision": checked.revision, **_as_rows(checked)})
    print_assessment(printer, checked, all_findings=all_findings or rule is not None)
    worst = checked.worst()
    return int(worst is not None and fail_on != "never" and worst.rank >= Severity(fail_on).rank)


def _as_rows(checked: Checked) -> dict[str, Any]:
    assessment = checked.assessment
    labels = checked.labels
    return {
        "checked": assessment.judged_count,
        "by_severity": assessment.by_severity(),
        "findings": [
            {
                "rule": finding.rule,
                "severity": finding.severity,
                "message": finding.message,
                "parts": [{"kind": s.kind, "id": s.id, "label": labels[s]} for s in finding.subjects],
            }
            for finding in assessment.findings
        ],
        "waived": [{"finding": finding, "waiver": waiver} for finding, waiver in assessment.waived],
        "came_back": [{"finding": finding, "waiver": waiver} for finding, waiver in assessment.came_back],
        "sign_offs": checked.sign_offs,
        "not_checked": [
            {
                "missing": str(missing),
                "rules": sorted({verdict.rule for verdict in verdicts}),
                "parts": sorted({labels[s] for verdict in verdicts for s in verdict.subjects}, key=natural_key),
            }
            for missing, verdicts in assessment.by_missing().items()
        ],
    }


COMMAND: Final = check
