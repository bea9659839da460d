"""sipp, an end written by others, run by a scenario of the folder ``sipp`` beside this."""

import asyncio
import os
import shutil
from pathlib import Path
from typing import Final

import pytest

from doorwright.line.udp import Address

SIPP: Final = shutil.which("sipp")
SCENARIOS: Final = Path(__file__).with_name("sipp")
_PATIENCE: Final = "20s"


def need_sipp() -> None:
    """Skip where sipp is missing, but fail in CI."""
    if SIPP is None:
        if "CI" in os.environ:
            pytest.fail("CI must have sipp: install Debian's package sip-tester")
        pytest.skip("sipp is not installed (Debian: apt-get install sip-tester)")


class Sipp:
    """One sipp that plays one scenario, once."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        self._process = process

    @classmethod
    async def begin(
        cls, scenario: str, *, folder: Path, at: Address, to: Address | None = None, more: tuple[str, ...] = ()
    ) -> "Sipp":
        """Start it.

        Args:
            scenario: which, by the name of its file.
            folder: where it writes what it writes.
            at: the address and port that it uses.
            to: whom it calls; None lets it wait to be called.
            more: further options.
        """
        assert SIPP is not None
        command = [SIPP, *((f"{to[0]}:{to[1]}",) if to else ()), "-sf", str(SCENARIOS / f"{scenario}.xml")]
        command += ["-i", at[0], "-p", str(at[1]), "-m", "1", "-nostdin", "-trace_err", "-s", "party"]
        command += ["-timeout", _PATIENCE, "-timeout_error", *more]
        return cls(
            await asyncio.create_subprocess_exec(
                *command, cwd=folder, stdout=asyncio.subprocess.PIPE, stderr=asyncio.subprocess.STDOUT
            )
        )

    async def ends_well(self) -> None:
        """Wait for its end: everything came that its scenario says, and nothing else."""
        said, _ = await self._process.communicate()
        assert self._process.returncode == 0, said.decode(errors="replace")[-3000:]

    async def fails(self) -> None:
        """Wait for its end: something came that its scenario does not say."""
        said, _ = await self._process.communicate()
        assert self._process.returncode == 1, said.decode(errors="replace")[-3000:]  # sipp(1): a call failed
