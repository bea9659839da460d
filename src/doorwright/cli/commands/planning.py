"""Planning and judging: plan, check, explain, waive."""

from datetime import datetime
from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.check_book import Checked, check_book
from doorwright.app.explain import explain as find_rule
from doorwright.app.plan_book import Planned, plan_book
from doorwright.app.vault import has_vault
from doorwright.app.waive import waive as waive_findings
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.kernel.verdict import Severity
from doorwright.rules.catalogue import RULES
from doorwright.rules.rule import Rule

_NAMES_MOST: Final = 6


@options.command(name="plan", example="doorwright plan tower.book")
@options.book
@options.passphrase_file
@click.option("--no-secrets", is_flag=True, help="Do not make secrets now, and do not ask for the passphrase.")
@options.by
def plan(printer: Printer, book: Path, passphrase_file: Any, by: str | None, *, no_secrets: bool) -> None:
    """Issue what is missing: call numbers, keys, addresses, registrars, ports, secrets. Nothing issued moves."""
    passphrase = None
    if not no_secrets:
        passphrase = options.given_passphrase(passphrase_file)
        if passphrase is None and has_vault(book) and printer.can_ask:
            passphrase = options.passphrase_from(passphrase_file, "Passphrase of the vault")
    with options.means(printer, by) as means:
        planned = plan_book(book, means, passphrase)
    printer.result(planned)
    print_planned(printer, planned)
    if planned.secrets_waiting_count:
        how = "" if has_vault(book) else f"; first: doorwright vault {book} passphrase"
        printer.line(f"{planned.secrets_waiting_count} secrets wait for the vault's passphrase{how}")
    printer.line(f"Next: doorwright check {book}")


@options.command(name="check", example="doorwright check tower.book --fail-on warning")
@options.book
@click.option(
    "--fail-on",
    type=click.Choice([*(severity.value for severity in reversed(Severity)), "never"]),
    default=Severity.ERROR.value,
    show_default=True,
    help="Exit with 1 when there is a finding at least this severe.",
)
@click.option("--rule", help="Show this rule alone.")
@click.option("--vault", "open_vault", is_flag=True, help="Open the vault and judge the secrets themselves too.")
@options.passphrase_file
def check(
    printer: Printer, book: Path, fail_on: str, rule: str | None, passphrase_file: Any, *, open_vault: bool
) -> int:
    """Judge the site by every rule: what does not hold, and what cannot be checked yet and why."""
    if rule is not None:
        find_rule(rule)
    passphrase = options.passphrase_from(passphrase_file, "Passphrase of the vault") if open_vault else None
    with options.means(printer) as means:
        checked = check_book(book, means, passphrase, only=rule)
    printer.result({"revision": checked.revision, **_as_rows(checked)})
    print_assessment(printer, checked, all_findings=True)
    worst = checked.worst()
    return int(worst is not None and fail_on != "never" and worst.rank >= Severity(fail_on).rank)


@options.command(name="explain", example="doorwright explain\ndoorwright explain address-used-twice")
@click.argument("rule", required=False)
def explain(printer: Printer, rule: str | None) -> None:
    """Show a rule's page: why it matters, what to do, an example, its sources. Without a name, list all rules."""
    if rule is None:
        printer.result([_rule_page(one) for one in RULES])
        printer.table(("rule", "severity", "finds"), [(one.id, one.severity, one.title) for one in RULES])
        return
    one = find_rule(rule)
    printer.result(_rule_page(one))
    printer.line(f"{one.id} ({one.severity})", style="bold")
    printer.line(one.title)
    for heading, text in (
        ("Why it matters", one.why),
        ("What to do", one.remedy),
        ("Finds, for example", one.finds.text),
        ("Lets pass", one.passes.text),
        ("Phases", ", ".join(one.phases)),
    ):
        printer.heading(heading)
        printer.line(text)
    printer.heading("Sources")
    for cite in one.cites:
        printer.line(f"{cite} ({cite.held})")


@options.command(
    name="waive",
    example='doorwright waive tower.book link-too-long "K-3.12" --reason "measured, passes" --until 2030-06-30',
)
@options.book
@click.argument("rule")
@click.argument("part")
@click.option("--reason", required=True, help="Why the finding may stand.")
@click.option("--until", required=True, type=click.DateTime(["%Y-%m-%d"]), help="The last day it may stand.")
@options.by
def waive(printer: Printer, book: Path, rule: str, part: str, reason: str, until: datetime, by: str | None) -> None:
    """Accept what a rule finds on a part, for a reason, until a day. It comes back as a finding after that."""
    with options.means(printer, by) as means:
        waivers = waive_findings(book, rule, part, means, reason=reason, until=until.date())
    printer.result(waivers)
    printer.line(f"Waived {len(waivers)} of {rule} on {part} until {until:%Y-%m-%d}.")


def print_planned(printer: Printer, planned: Planned) -> None:
    """Print what planning gave."""
    issued = ", ".join(f"{count} {what}" for what, count in planned.issued.items())
    printer.heading(f"Planned, revision {planned.revision}")
    printer.line(f"Issued: {issued}" if issued else "Nothing was missing; nothing moved.")
    for trouble in planned.troubles:
        printer.line(f"Not planned: {trouble.problem}. {trouble.remedy}")


def print_assessment(printer: Printer, checked: Checked, *, all_findings: bool = False) -> None:
    """Print what the rules say: findings by severity, what was not checked and why, and the count of each."""
    assessment = checked.assessment
    counts = ", ".join(f"{count} {severity}" for severity, count in assessment.by_severity().items())
    printer.heading(f"Checked, revision {checked.revision}: {counts}")
    findings = [f for f in assessment.findings if all_findings or f.severity is not Severity.NOTE]
    if findings:
        printer.table(("severity", "rule", "finding"), [(f.severity, f.rule, f.message) for f in findings])
    left_out = len(assessment.findings) - len(findings)
    if left_out:
        printer.line(f"and {left_out} notes (all: doorwright check)")
    for finding, waiver in assessment.waived:
        printer.line(f"waived until {waiver.until} by {waiver.by}: {finding.message} ({waiver.reason})")
    missing = assessment.by_missing()
    if missing:
        printer.heading("Could not be checked, by what is missing")
        rows = []
        for what, verdicts in missing.items():
            names = list(dict.fromkeys(checked.labels[subject] for v in verdicts for subject in v.subjects))
            more = f" and {len(names) - _NAMES_MOST} more" if len(names) > _NAMES_MOST else ""
            rules = ", ".join(dict.fromkeys(verdict.rule for verdict in verdicts))
            rows.append((str(what), str(len(names)), ", ".join(names[:_NAMES_MOST]) + more, rules))
        printer.table(("missing", "parts", "which", "rules that wait"), rows)
    printer.line()
    printer.line(
        f"Checked {assessment.judged_count}, failed {len(assessment.findings)}, waived {len(assessment.waived)}, "
        f"could not check {len(assessment.not_checked)}."
    )


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
        "not_checked": [
            {
                "missing": str(missing),
                "rules": sorted({verdict.rule for verdict in verdicts}),
                "parts": sorted({labels[subject] for verdict in verdicts for subject in verdict.subjects}),
            }
            for missing, verdicts in assessment.by_missing().items()
        ],
    }


def _rule_page(rule: Rule) -> dict[str, Any]:
    return {
        "rule": rule.id,
        "severity": rule.severity,
        "phases": rule.phases,
        "title": rule.title,
        "why": rule.why,
        "what_to_do": rule.remedy,
        "finds": rule.finds.text,
        "lets_pass": rule.passes.text,
        "sources": [{"source": str(cite), "held": cite.held} for cite in rule.cites],
    }


COMMANDS: Final = (plan, check, explain, waive)
