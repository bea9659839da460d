"""What is written for one kind of server: its files, and what could not be said in them."""

from dataclasses import dataclass, field
from typing import Self


@dataclass(frozen=True, slots=True, kw_only=True)
class ServerFile:
    """A file for a server, UTF-8. ``name`` may begin with one folder. A ``private`` one holds secrets."""

    name: str
    text: str = field(repr=False)
    private: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """Files for servers, remarks on what is not in them, and of how many units the private ones hold a hash."""

    files: tuple[ServerFile, ...] = ()
    remarks: tuple[str, ...] = ()
    hashes_count: int = 0

    def __add__(self, other: Self) -> "Served":
        return Served(
            files=self.files + other.files,
            remarks=tuple(dict.fromkeys(self.remarks + other.remarks)),
            hashes_count=self.hashes_count + other.hashes_count,
        )


NOTHING_SERVED = Served()
