"""Coverage-guided fuzzing of the message reader: `make fuzz`. Any bytes must give a message or a PeerError.

It starts from the torture messages and stops after the runs it is asked for; a find is written as `crash-...` to the
folder named by -artifact_prefix, and belongs into a unit test.
"""

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["doorwright.sip"]):
    from tests.unit.sip.survival import survive
from tests.unit.sip.torture_messages import MESSAGES


def one(data: bytes) -> None:
    """One run; libFuzzer wants no result."""
    survive(data)


def main() -> None:
    """Fuzz with the options of libFuzzer, from the command line."""
    with tempfile.TemporaryDirectory() as folder:
        for name, data in MESSAGES.items():
            (Path(folder) / name).write_bytes(data)
        atheris.Setup([*sys.argv, folder], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
