"""The units that call and answer, their key modules and keys, and the marks of their secrets."""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from doorwright.model.part import Part


class UnitKind(StrEnum):
    """The kinds of unit in IEC 62820-1-1."""

    VCU = "VCU"
    URU = "URU"
    SMU = "SMU"

    @property
    def words(self) -> str:
        """The kind written out."""
        return {
            UnitKind.VCU: "visitor call unit",
            UnitKind.URU: "user receiver unit",
            UnitKind.SMU: "security management unit",
        }[self]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit(Part):
    """One visitor call unit, user receiver unit or security management unit.

    A VCU stands at an entrance, a URU in a dwelling, an SMU in a place. ``position`` is 0 for the primary of its
    group and 1, 2, ... for its secondaries; ``registrar`` is the unit or SIP server that it registers with.
    ``call_number`` is for units that are called by a number of their own (an SMU); a URU answers its dwelling's.
    ``height_mm`` is the height of its highest control above the finished floor.
    """

    KIND: ClassVar[str] = "unit"
    TABLE: ClassVar[str] = "units"

    name: str
    kind: UnitKind
    profile: str
    entrance: str | None = None
    dwelling: str | None = None
    place: str | None = None
    serial: str | None = None
    mac: str | None = None
    firmware: str | None = None
    subnet: str | None = None
    address: str | None = None
    call_number: str | None = None
    position: int | None = None
    registrar: str | None = None
    height_mm: int | None = None

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyModule(Part):
    """A module of further keys beside a VCU, or of a lock output; ``ordinal`` counts from 1 in mounting order."""

    KIND: ClassVar[str] = "key module"
    TABLE: ClassVar[str] = "modules"

    unit: str
    profile: str
    ordinal: int
    serial: str | None = None

    @property
    def label(self) -> str:
        """Its place in the row of modules."""
        return f"module {self.ordinal}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Key(Part):
    """One key of a direct-key VCU and what it rings: a dwelling, or a desk (an SMU).

    ``module`` is the ordinal of the key's module, 0 for the keys built into the unit; ``slot`` counts from 1 in it.
    """

    KIND: ClassVar[str] = "key"
    TABLE: ClassVar[str] = "keys"

    unit: str
    module: int
    slot: int
    dwelling: str | None = None
    desk: str | None = None

    @property
    def label(self) -> str:
        """Its module and slot."""
        return f"key {self.module}.{self.slot}"


class SecretUse(StrEnum):
    """What a secret opens: the unit's own settings, or its SIP registration."""

    DEVICE = "device secret"
    SIP = "SIP secret"


@dataclass(frozen=True, slots=True, kw_only=True)
class SecretMark(Part):
    """That a secret was issued to a unit, switch or server. The secret itself lies in the vault under this identifier.

    ``line`` is its line on the sealed sheet, by which cards refer to it.
    """

    KIND: ClassVar[str] = "secret"
    TABLE: ClassVar[str] = "secrets"

    owner: str
    use: SecretUse
    line: int

    @property
    def label(self) -> str:
        """Its line on the sealed sheet."""
        return f"sealed sheet line {self.line}"
