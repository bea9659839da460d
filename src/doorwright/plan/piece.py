"""Pieces: the settings of units, switches and servers, cut so small that each depends on few parts of the site."""

from enum import StrEnum
from typing import NamedTuple, TypeAlias

from doorwright.model.network import SipServer, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk

Holder: TypeAlias = Unit | Switch | SipServer
"""What settings are entered at."""


class PieceKind(StrEnum):
    """What a piece of settings is about."""

    OWN = "own"
    PAIRING = "pairing"
    CLOCK = "clock"
    TIMETABLE = "timetable"
    RINGING = "ringing"
    DIVERT = "divert"
    DOOR = "door"
    KEY = "key"
    DIRECTORY = "directory"
    PORT = "port"


class Piece(NamedTuple):
    """A piece of one holder's settings.

    ``about`` is a unit, dwelling, desk, timetable, divert or door, or the number of a key or port.
    """

    holder: str
    kind: PieceKind
    about: str = ""


def holder_of(walk: Walk, ident: str | None) -> Holder | None:
    """Return the unit, switch or server of an identifier, or None."""
    return walk.find(Unit, ident) or walk.find(Switch, ident) or walk.find(SipServer, ident)
