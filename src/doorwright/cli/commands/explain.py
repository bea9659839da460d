"""`explain`: the page of a rule."""

from typing import Any, Final

import click

from doorwright.app.explain import explain as find_rule
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.rules.catalogue import RULES
from doorwright.rules.rule import Rule


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


COMMAND: Final = explain
