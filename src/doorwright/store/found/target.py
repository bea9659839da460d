"""What a column of a settings table can tell, in which form, and under which headings it is often found."""

import re
from dataclasses import dataclass
from ipaddress import IPv4Network
from types import MappingProxyType
from typing import Any, Final

from doorwright.model.aspect import DOWN, Aspect
from doorwright.store.workbook.grid import Raw
from doorwright.store.workbook.values import (
    ADDRESS,
    MAC,
    POSITION,
    SERIAL,
    TEXT,
    Form,
    Parsed,
    Unreadable,
    as_text,
    check_error,
    squeezed,
    whole,
)


@dataclass(frozen=True, slots=True)
class Target:
    """One thing that a column tells: its word on the command line, what it is, the form of its cells.

    ``aspect`` is what the cell becomes; a switch and a port become one. ``identifies`` says whether it can tell which
    part a row is about. ``often`` are headings by which a guess is offered.
    """

    word: str
    aspect: Aspect
    form: Form
    what: str
    identifies: bool = False
    often: tuple[str, ...] = ()


def _text(value: Any) -> Any:
    return value


def _read_mask(raw: Raw, heading: str) -> Parsed:
    text = as_text(raw).removeprefix("/")
    if text.isdecimal() and int(text) <= 32:
        return Parsed(str(IPv4Network(f"0.0.0.0/{text}").netmask), "the prefix length was read as a mask")
    return ADDRESS.read(raw, heading)


_SIP_URI: Final = re.compile(r"(?:sips?:)?(?:[^@\s]*@)?(\[[0-9A-Fa-f:.]+\]|[^\s:;>/]+)(?::\d+)?(?:;.*)?", re.IGNORECASE)


def _read_registrar(raw: Raw, heading: str) -> Parsed:
    """Return the host: of a SIP URI (RFC 3261 §19.1.1) or of host and port, without the rest."""
    text = as_text(raw).strip("<>")
    check_error(text)
    found = _SIP_URI.fullmatch(text)
    if found is None:
        raise Unreadable("this is no address of a registrar", "Write its address, such as 192.0.2.10.")
    host = found[1].strip("[]")
    change = "" if host == text else "only the host of the registrar was kept"
    if re.fullmatch(r"[\d.]+", host):
        return Parsed(ADDRESS.read(host, heading).value, change)
    return Parsed(host.casefold(), change)


_PORT: Final = re.compile(r"(.*?)(\d{1,4})")


def _read_port(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    found = _PORT.fullmatch(text)
    if found is None or int(found[2]) < 1:
        raise Unreadable("this is no number of a port", "Write the number on the switch, from 1 upwards.")
    return Parsed(str(int(found[2])), f"read as port {int(found[2])}" if re.search(r"\d", found[1]) else "")


_SPEEDS_MBPS: Final = frozenset({10, 100, 1000, 2500, 5000, 10_000})
_SPEED: Final = re.compile(r"(\d+(?:[.,]\d+)?)\s*([kmg])?", re.IGNORECASE)
_NO_LINK: Final = frozenset(map(squeezed, ("down", "no link", "link down", "disconnected", "not connected", "0")))
_IN_MBPS: Final = {"": 1.0, "k": 1e-3, "m": 1.0, "g": 1e3}


def _read_speed(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    if squeezed(text) in _NO_LINK:
        return Parsed(DOWN)
    found = _SPEED.match(text)
    if found is not None:
        figure = float(found[1].replace(",", ".")) * _IN_MBPS[(found[2] or "").lower()]
        if figure >= 1_000_000:  # in bits per second, as switches count it (RFC 2863, ifSpeed; from memory)
            figure /= 1e6
        if figure in _SPEEDS_MBPS:
            return Parsed(f"{figure:.0f}")
    raise Unreadable("this is no link speed", "Write 10, 100 or 1000 (Mb/s), or down.")


_WATTS: Final = re.compile(r"(\d+(?:[.,]\d+)?)\s*(m?w)?(?:att)?s?", re.IGNORECASE)


def _read_watts(raw: Raw, heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    found = _WATTS.fullmatch(text)
    if found is None:
        raise Unreadable("this is no power", "Write the power in W, such as 4.2.")
    unit = (found[2] or ("mw" if re.search(r"\bmw\b", heading.casefold()) else "w")).lower()
    figure_w = float(found[1].replace(",", ".")) / (1000 if unit == "mw" else 1)
    return Parsed(f"{figure_w:g}", "milliwatts converted to watts" if unit == "mw" else "")


_REGISTERED: Final = MappingProxyType(
    {
        **dict.fromkeys(("yes", "y", "true", "1", "registered", "online", "ok", "up", "active", "x", "✓", "✔"), "yes"),
        **dict.fromkeys(("no", "n", "false", "0", "notregistered", "unregistered", "offline", "failed", "down"), "no"),
    }
)


def _read_registered(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    known = _REGISTERED.get(squeezed(text))
    if known is None:
        raise Unreadable("this does not say whether the unit is registered", "Write yes or no.")
    return Parsed(known, "" if squeezed(text) == known else f"read as {known}")


def _as_number(form: Form) -> Form:
    return Form(form.wanted, lambda raw, heading: _numbered(form.read(raw, heading)), _text)


def _numbered(parsed: Parsed) -> Parsed:
    return Parsed(str(parsed.value), parsed.change)


_MASK: Final = Form("a mask or prefix length", _read_mask, _text)
_REGISTRAR: Final = Form("an address or SIP URI", _read_registrar, _text)
_PORT_NUMBER: Final = Form("a number of a port", _read_port, _text)
_LINK: Final = Form("a link speed", _read_speed, _text)
_POE: Final = Form("a power in W", _read_watts, _text)
_YES_OR_NO: Final = Form("yes or no", _read_registered, _text)

SWITCH: Final = Target("switch", Aspect.PORT, TEXT, "name of the switch", identifies=True, often=("switch name",))
PORT: Final = Target(
    "port", Aspect.PORT, _PORT_NUMBER, "port of the switch", identifies=True,
    often=("switch port", "port number", "port no", "interface"),
)  # fmt: skip

TARGETS: Final = (
    Target(
        "unit", Aspect.NAME, TEXT, "name of the unit", identifies=True,
        often=("unit name", "name", "device", "device name", "station", "host name", "hostname"),
    ),
    Target("serial", Aspect.SERIAL, SERIAL, "serial number", identifies=True, often=("serial no", "sn")),
    Target(
        "mac", Aspect.MAC, MAC, "MAC address", identifies=True,
        often=("mac address", "ethernet address", "hardware address", "physical address"),
    ),
    SWITCH,
    PORT,
    Target(
        "address", Aspect.ADDRESS, ADDRESS, "IP address", identifies=True, often=("ip", "ip address", "ipv4 address"),
    ),
    Target("mask", Aspect.MASK, _MASK, "mask", often=("subnet mask", "netmask", "network mask", "prefix length")),
    Target("gateway", Aspect.GATEWAY, ADDRESS, "gateway", often=("default gateway", "router")),
    Target("vlan", Aspect.VLAN, _as_number(whole(least=1)), "VLAN", often=("vlan id", "pvid")),
    Target(
        "registrar", Aspect.REGISTRAR, _REGISTRAR, "registrar's address",
        often=("registrar address", "sip server", "server address", "sip registrar"),
    ),
    Target(
        "call-number", Aspect.CALL_NUMBER, TEXT, "call number",
        often=("number", "call no", "extension", "sip user", "user"),
    ),
    Target("position", Aspect.POSITION, _as_number(POSITION), "position in its group", often=("pos",)),
    Target(
        "firmware", Aspect.FIRMWARE, TEXT, "firmware",
        often=("firmware version", "software version", "version", "fw"),
    ),
    Target("link-speed", Aspect.LINK, _LINK, "link speed of its port", often=("speed", "link")),
    Target(
        "poe-power", Aspect.POE, _POE, "PoE power at its port",
        often=("power", "poe", "power w", "poe w", "power mw", "poe mw"),
    ),
    Target(
        "registered", Aspect.REGISTERED, _YES_OR_NO, "whether it is registered",
        often=("registration", "registration status", "sip status", "status"),
    ),
)  # fmt: skip
"""In the order in which they identify a part: what is printed on it before what is entered in it."""

TARGET_BY_WORD: Final = MappingProxyType({target.word: target for target in TARGETS})
