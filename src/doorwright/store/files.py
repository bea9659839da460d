"""Files written whole or not at all."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from doorwright.kernel.errors import Refused


def write_whole(path: Path, content: bytes, *, private: bool = False) -> None:
    """Write a file so that its name shows the old content or the whole new one, never a part.

    A ``private`` file is its owner's alone to read, where the system knows owners.

    Raises:
        Refused: the folder cannot be written, or the disk is full.
    """
    with writing_whole(path, private=private) as file:
        file.write(content)


@contextmanager
def writing_whole(path: Path, *, private: bool = False) -> Iterator[BinaryIO]:
    """Give a file to write to bit by bit; its name shows the old content until all is written, then the new.

    Where an exception comes in between, the old content stays.

    Raises:
        Refused: the folder cannot be written, or the disk is full.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        draft = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                yield file
                file.flush()
                os.fsync(file.fileno())
            draft.chmod(0o600 if private else 0o644)
            draft.replace(path)
        finally:
            draft.unlink(missing_ok=True)
    except OSError as error:
        raise Refused(
            f"{path} could not be written: {error.strerror}", remedy="Choose another folder, or make room there."
        ) from error
