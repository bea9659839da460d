"""The kinds of cable that a run may name, from ``data/cables.toml``."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from types import MappingProxyType
from typing import Any

from doorwright import data
from doorwright.calc.conductor import ConductorForm, gauge_ohm_per_km, maximum_conductor_ohm_per_km
from doorwright.kernel.source import Cite


class CableUse(StrEnum):
    """What a cable is for: four twisted pairs for data, two wires for power, or optical fibre."""

    DATA = "data"
    POWER = "power"
    OPTICAL = "optical"


@dataclass(frozen=True, slots=True, kw_only=True)
class CableKind:
    """One kind of cable. ``conductor_ohm_per_km`` is the resistance of one conductor at 20 °C, infinite in fibre."""

    key: str
    title: str
    use: CableUse
    screened: bool
    conductor_ohm_per_km: float
    cite: Cite


@cache
def cable_kinds() -> MappingProxyType[str, CableKind]:
    """Return every kind of cable by key."""
    return MappingProxyType({key: _kind(key, row) for key, row in data.table("cables").items()})


def _kind(key: str, row: dict[str, Any]) -> CableKind:
    return CableKind(
        key=key,
        title=row["title"],
        use=CableUse(row["use"]),
        screened=row["screened"],
        conductor_ohm_per_km=_conductor_ohm_per_km(row),
        cite=Cite(row["source"], row["place"]),
    )


def _conductor_ohm_per_km(row: dict[str, Any]) -> float:
    if "conductor_ohm_per_km" in row:
        return float(row["conductor_ohm_per_km"])
    if "gauge_awg" in row:
        return gauge_ohm_per_km(gauge_awg=row["gauge_awg"], stranded=row.get("stranded", False))
    return maximum_conductor_ohm_per_km(nominal_mm2=row["nominal_mm2"], form=ConductorForm(row["form"]))
