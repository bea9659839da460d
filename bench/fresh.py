"""One step in a fresh process, so that its memory is its own: ``python -m bench.fresh STEP FOLDER`` prints JSON."""

import json
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from bench import steps
from doorwright.cli.main import collect_seldom


@dataclass(frozen=True, slots=True)
class Cost:
    """What a step took: medians of the time passed and of the processor's time, and the most memory of its process.

    Figures are made from the processor's time, so that a machine with other work does not spoil them.
    ``peak_mib`` is None where the system does not tell.
    """

    time_s: float
    busy_s: float
    peak_mib: float | None


def lay_out(folder: Path, dwellings_count: int) -> None:
    """Make everything that the steps need, in a process of its own."""
    _in_fresh_process("lay_out", str(folder), str(dwellings_count))


def measure(step: str, folder: Path, runs_count: int) -> Cost:
    """Return the cost of a step over several fresh processes."""
    said = [json.loads(_in_fresh_process(step, str(folder))) for _ in range(runs_count)]
    peaks = [one["peak_mib"] for one in said]
    return Cost(
        time_s=median(time_s for one in said for time_s, _ in one["calls"]),
        busy_s=median(busy_s for one in said for _, busy_s in one["calls"]),
        peak_mib=None if None in peaks else median(peaks),
    )


def _in_fresh_process(*arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "bench.fresh", *arguments], check=True, stdout=subprocess.PIPE, text=True,
        cwd=Path(__file__).parents[1],
    )  # fmt: skip
    return done.stdout


def _run(step: str, folder: Path) -> dict[str, object]:
    collect_seldom()  # as the command line does at its start
    calls = []
    prepared = getattr(steps, step)(folder)
    for call in prepared:
        begin_s, busy_s = time.perf_counter(), time.process_time()
        call()
        calls.append((time.perf_counter() - begin_s, time.process_time() - busy_s))
    return {"calls": calls, "peak_mib": _peak_mib()}


def _peak_mib() -> float | None:
    try:
        import resource  # noqa: PLC0415  (there is none on Windows)
    except ImportError:
        return None
    peak: int = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024 * 1024 if sys.platform == "darwin" else 1024)  # macOS counts bytes, others KiB


if __name__ == "__main__":
    if sys.argv[1] == "lay_out":
        steps.lay_out(Path(sys.argv[2]), int(sys.argv[3]))
    else:
        print(json.dumps(_run(sys.argv[1], Path(sys.argv[2]))))
