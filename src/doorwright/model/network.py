"""Subnets, SIP servers, switches, junctions and the cables between everything."""

from dataclasses import dataclass
from typing import ClassVar

from doorwright.model.part import Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Subnet(Part):
    """A range of addresses given to the system.

    ``cidr`` in prefix form (RFC 4632), ``first`` and ``last`` bound what may be issued where the owner keeps the rest,
    ``reserved`` are single addresses or ranges ``a-b`` that must not be issued. ``kinds`` says what it is for
    (VCU, URU, SMU, switch); empty means everything.
    """

    KIND: ClassVar[str] = "subnet"
    TABLE: ClassVar[str] = "subnets"

    name: str
    cidr: str
    gateway: str | None = None
    vlan: int | None = None
    first: str | None = None
    last: str | None = None
    reserved: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class SipServer(Part):
    """A SIP registrar and proxy that is not a unit, with the registrations and the calls at once that it is sized for.

    ``serves_buildings`` are the buildings whose units register with it; empty means all. The units of other buildings
    register with their own primaries.
    """

    KIND: ClassVar[str] = "SIP server"
    TABLE: ClassVar[str] = "servers"

    name: str
    address: str | None = None
    port: int = 5060
    realm: str | None = None
    registrations_max: int | None = None
    calls_max_count: int | None = None
    serves_buildings: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch(Part):
    """A network switch that feeds units."""

    KIND: ClassVar[str] = "switch"
    TABLE: ClassVar[str] = "switches"

    name: str
    profile: str
    place: str | None = None
    serial: str | None = None
    mac: str | None = None
    subnet: str | None = None
    address: str | None = None

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Junction(Part):
    """A box in which a run from a supply parts into several."""

    KIND: ClassVar[str] = "junction"
    TABLE: ClassVar[str] = "junctions"

    name: str
    place: str | None = None

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class CableRun(Part):
    """A cable from one part to another: switch to unit, switch to switch, supply to door, switch or junction.

    ``near`` is the feeding end (a switch, supply or junction), ``far`` the fed one (a unit, switch, door or junction);
    ports are counted from 1. ``cable`` is a key of ``data/cables.toml``; ``temperature_c`` the warmest the cable is
    expected to get; ``fuse_a`` the fuse at its near end; ``bundle_count`` how many such cables lie in one bundle.
    """

    KIND: ClassVar[str] = "cable run"
    TABLE: ClassVar[str] = "runs"

    name: str
    near: str
    far: str
    near_port: int | None = None
    far_port: int | None = None
    cable: str | None = None
    length_m: float | None = None
    temperature_c: float | None = None
    fuse_a: float | None = None
    bundle_count: int | None = None

    @property
    def label(self) -> str:
        """Its name."""
        return self.name
