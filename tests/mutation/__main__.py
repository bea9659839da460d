"""Change `calc` one small thing at a time and count how many of the changes its tests notice.

The changes are made in a copy under ``build/mutation``, so the work tree stays as it is. A run that was broken off goes
on where it stopped, as long as neither the code nor the tests nor the sample have changed.
"""

import os
import random
import shlex
import shutil
import sys
import tomllib
from collections import Counter
from collections.abc import Iterable, Sequence
from contextlib import chdir
from hashlib import sha256
from itertools import groupby
from pathlib import Path
from typing import Any, Final

import click
from cosmic_ray.commands.init import init
from cosmic_ray.modules import find_modules
from cosmic_ray.mutating import mutate_and_test
from cosmic_ray.testing import run_tests
from cosmic_ray.work_db import WorkDB, use_db
from cosmic_ray.work_item import TestOutcome, WorkItem, WorkResult

from tests.mutation.judged import Judged

ROOT: Final = Path(__file__).parents[2]
BUILD: Final = ROOT / "build" / "mutation"
SETTINGS: Final[dict[str, Any]] = tomllib.loads(Path(__file__).with_name("mutation.toml").read_text(encoding="utf-8"))
_COPIED: Final = ("src", "tests")


@click.command()
@click.option("--sample", default="300", show_default=True, help='How many mutants to draw, or "all".')
@click.option("--seed", default=1, show_default=True, help="Another seed draws another sample.")
def main(sample: str, seed: int) -> None:
    """Mutate `calc`, test every mutant, print the score and the mutants that live."""
    count = None if sample == "all" else int(sample)
    session = BUILD / f"{_digest(sample, seed)}.sqlite"
    tree = _copy()
    os.environ.update(CI="1", PYTHONPATH=str(tree / "src"), PYTEST_DISABLE_PLUGIN_AUTOLOAD="1")
    with chdir(tree):
        _see_sound()
        with use_db(str(session)) as db:
            if not db.num_work_items:
                _draw(db, count, seed)
            _execute(db)
            _print(db)


def _digest(sample: str, seed: int) -> str:
    digest = sha256(f"{sample} {seed}".encode())
    for place in (SETTINGS["module-path"], "tests/mutation", *SETTINGS["tests"]):
        path = ROOT / place
        for file in sorted(path.rglob("*.*") if path.is_dir() else [path]):
            if file.suffix in {".py", ".toml"}:
                digest.update(file.relative_to(ROOT).as_posix().encode() + file.read_bytes())
    return digest.hexdigest()[:12]


def _copy() -> Path:
    tree = BUILD / "tree"
    shutil.rmtree(tree, ignore_errors=True)
    for folder in _COPIED:
        shutil.copytree(ROOT / folder, tree / folder, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy2(ROOT / "pyproject.toml", tree)
    return tree


def _command(tests: Iterable[str]) -> str:
    return shlex.join([sys.executable, "-m", "pytest", "-x", "--tb=no", "-p", "no:cacheprovider", *tests])


def _see_sound() -> None:
    """End the run where a test fails though nothing has been changed."""
    outcome, output = run_tests(_command(SETTINGS["tests"]), 10 * SETTINGS["timeout-s"])
    if outcome is not TestOutcome.SURVIVED:
        raise SystemExit(f"the tests fail without any change:\n{output}")


def _draw(db: WorkDB, count: int | None, seed: int) -> None:
    """Fill the session with a sample of the mutants that a test could judge."""
    init(sorted(find_modules([Path(SETTINGS["module-path"])])), db, {})
    items = sorted(db.work_items, key=_place)
    judged = Judged.of(SETTINGS)
    kept: list[WorkItem] = []
    for module, found in groupby(items, key=lambda item: item.mutations[0].module_path):
        of_module = list(found)
        starts = [(item.mutations[0].operator_name, item.mutations[0].start_pos) for item in of_module]
        kept += [item for item, can in zip(of_module, judged.starts(module, starts), strict=True) if can]
    # chance is drawn from a stated seed, so that two runs of the same code try the same mutants
    drawn = kept if count is None else random.Random(seed).sample(kept, min(count, len(kept)))  # noqa: S311
    db.clear()
    db.add_work_items(sorted(drawn, key=_place))
    click.echo(f"{len(items)} mutants, {len(kept)} can be judged, {len(drawn)} drawn with seed {seed}")


def _place(item: WorkItem) -> tuple[Path, tuple[int, int], str, int]:
    mutation = item.mutations[0]
    return mutation.module_path, mutation.start_pos, mutation.operator_name, mutation.occurrence


def _execute(db: WorkDB) -> None:
    pending = list(db.pending_work_items)
    with click.progressbar(pending, label="mutants", file=sys.stderr) as bar:
        for item in bar:
            db.set_result(item.job_id, _test(item))


def _test(item: WorkItem) -> WorkResult:
    """Try the tests of the module first, and all the others only on what those let live."""
    every = SETTINGS["tests"]
    first = SETTINGS["first-tests"].get(item.mutations[0].module_path.stem, every)
    result = mutate_and_test(item.mutations, _command(first), SETTINGS["timeout-s"])
    if result.is_killed or first == every:
        return result
    return mutate_and_test(item.mutations, _command(every), 3 * SETTINGS["timeout-s"])


def _print(db: WorkDB) -> None:
    results: dict[str, WorkResult] = dict(db.results)
    tried, killed = Counter[str](), Counter[str]()
    lived: list[str] = []
    for item in sorted(db.work_items, key=_place):
        module, result = item.mutations[0].module_path.stem, results[item.job_id]
        tried[module] += 1
        killed[module] += result.is_killed
        if not result.is_killed:
            lived.append(f"{module}.py:{item.mutations[0].start_pos[0]}\n{_changed(result.diff.splitlines())}")
    for module, count in tried.items():
        click.echo(f"{module:<12} {killed[module]:>4} of {count:>4}")
    click.echo(f"noticed {killed.total()} of {tried.total()} changes, {killed.total() / tried.total():.1%}")
    if lived:
        click.echo("\nnot noticed:\n\n" + "\n\n".join(lived))


def _changed(diff: Sequence[str]) -> str:
    return "\n".join(
        f"  {line}" for line in diff if line.startswith(("+", "-")) and not line.startswith(("+++", "---"))
    )


if __name__ == "__main__":
    main()
