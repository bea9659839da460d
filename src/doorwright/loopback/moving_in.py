"""The boxes of a plan moved to their places on this machine: whatever addresses are entered in them move along."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from doorwright.loopback.places import Places
from doorwright.rehearse.box import Box


@dataclass(frozen=True, slots=True)
class Tenant:
    """A box where it lives now, and as it was: the planned network still decides who reaches whom."""

    box: Box
    planned: Box
    http_port: int
    rtsp_port: int


@dataclass(frozen=True, slots=True)
class Crowded:
    """Boxes that cannot live at once on one machine: one address is entered in all of them."""

    address: str
    names: tuple[str, ...]


def moved_in(boxes: Mapping[str, Box], places: Places, *, real: Collection[str] = ()) -> tuple[Tenant, ...]:
    """Return the boxes at their places.

    Args:
        boxes: as they are to be rehearsed, faults and all, with the addresses of the plan.
        places: of the addresses.
        real: boxes whose place something real takes, which listens at the planned port.
    """
    lived_at = {box.jack.address for ident, box in boxes.items() if ident not in real}
    really_at = {boxes[ident].jack.address for ident in real} - lived_at

    def port(address: str, planned: int) -> int:
        return planned if address in really_at else places.of(address).sip_port(planned)

    def moved(box: Box) -> Tenant:
        place, registers = places.of(box.jack.address), box.registers
        if registers is not None:
            there = places.of(registers.address).address
            registers = replace(registers, address=there, port=port(registers.address, registers.port))
        says = places.of(box.says_address).address if box.says_address is not None else None
        there_now = replace(
            box,
            jack=replace(box.jack, address=place.address),
            registers=registers,
            sip_port=port(box.jack.address, box.sip_port),
            media_port=place.ports.media,
            says_address=says,
        )
        return Tenant(box=there_now, planned=box, http_port=place.ports.http, rtsp_port=place.ports.rtsp)

    return tuple(moved(box) for box in boxes.values())


def crowded(boxes: Mapping[str, Box], *, left_out: Collection[str] = ()) -> tuple[Crowded, ...]:
    """Return the addresses that are entered in several boxes with a link."""
    names: dict[str, list[str]] = {}
    for ident, box in boxes.items():
        if ident not in left_out and box.jack.link:
            names.setdefault(box.jack.address, []).append(box.name)
    return tuple(Crowded(address, tuple(holders)) for address, holders in names.items() if len(holders) > 1)
