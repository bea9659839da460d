"""Measure every claim and print the figures beside their goals. A goal that is not met ends with exit code 1."""

import json
import platform
import tempfile
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

import click
from rich.console import Console
from rich.table import Table

from bench import (
    day,
    edit,
    growth,
    pages,
    paths,
    placement,
    rehearsal,
    schedule,
    sip_calls,
    sip_core,
    sip_registrar,
    touch,
    verify,
    whole,
)
from bench.claim import Costs, Figure
from bench.fresh import lay_out, measure

CLAIMS: Final = (
    whole,
    growth,
    edit,
    touch,
    schedule,
    paths,
    day,
    placement,
    rehearsal,
    verify,
    pages,
    sip_core,
    sip_registrar,
    sip_calls,
)
STEPS: Final = (*whole.STEPS, *edit.STEPS, *touch.STEPS, *paths.STEPS)


@click.command()
@click.option(
    "--dwellings", "sizes", type=click.IntRange(1), multiple=True, default=(100, 1_000, 10_000), show_default=True,
    help="Size of a site; may be given several times.",
)  # fmt: skip
@click.option("--runs", type=click.IntRange(1), default=5, show_default=True, help="Fresh processes for each figure.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of tables.")
def main(sizes: tuple[int, ...], runs: int, as_json: bool) -> None:
    """Measure what is claimed of speed and memory."""
    sizes = tuple(sorted(set(sizes)))
    costs = _costs(sizes, runs)
    figures = [figure for claim in CLAIMS for figure in claim.figures(costs, sizes)]
    if as_json:
        print(json.dumps(_report(costs, figures, runs), indent=2))
    else:
        _print(costs, figures, sizes)
    raise SystemExit(1 if any(figure.met is False for figure in figures) else 0)


def _costs(sizes: Sequence[int], runs: int) -> Costs:
    costs: Costs = {}
    progress = Console(stderr=True)
    for size in sizes:
        with tempfile.TemporaryDirectory() as folder, progress.status(f"laying out {size} dwellings") as status:
            lay_out(Path(folder), size)
            for step in STEPS:
                status.update(f"{size} dwellings: {step}")
                costs[step, size] = measure(step, Path(folder), runs)
    return costs


def _report(costs: Costs, figures: Sequence[Figure], runs: int) -> dict[str, Any]:
    return {
        "machine": {"python": platform.python_version(), "system": platform.system(), "processor": platform.machine()},
        "runs": runs,
        "costs": [{"step": step, "dwellings": size, **asdict(cost)} for (step, size), cost in costs.items()],
        "figures": [{**asdict(figure), "met": figure.met} for figure in figures],
    }


def _print(costs: Costs, figures: Sequence[Figure], sizes: Sequence[int]) -> None:
    console = Console()
    table = Table("step", *(f"{size} dwellings" for size in sizes), title="time, and peak memory of the process")
    for step in STEPS:
        table.add_row(step.strip("_").replace("_", " "), *(_cost(costs, step, size) for size in sizes))
    console.print(table)
    for claim in CLAIMS:
        table = Table("what", "measured", "goal", "", title=claim.NAME)
        for figure in figures:
            if figure.claim == claim.NAME:
                goal = "" if figure.at_most is None else f"at most {figure.at_most:g}"
                word = {None: "", True: "met", False: "[bold red]not met[/]"}[figure.met]
                table.add_row(figure.what, f"{figure.measured:.2f}", goal, word)
        console.print(table)


def _cost(costs: Costs, step: str, size: int) -> str:
    cost = costs[step, size]
    peak = "" if cost.peak_mib is None else f", {cost.peak_mib:.0f} MiB"
    return f"{1000 * cost.time_s:.1f} ms{peak}"


if __name__ == "__main__":
    main()
