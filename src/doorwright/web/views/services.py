"""Services: the files for general-purpose servers, looked at before anybody carries them away."""

import io
import zipfile
from dataclasses import dataclass
from pathlib import PurePosixPath
from types import MappingProxyType
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.write_services import ServiceKind, served_by, take_services
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.render.services import DIGESTS, Served, ServerFile
from doorwright.web.answers import Answer, Download, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.showing import book_url
from doorwright.web.unlocking import passphrase_of

_TEXT: Final = "text/plain; charset=utf-8"
_WHAT: Final = MappingProxyType(
    {
        ServiceKind.KAMAILIO: (
            "SIP",
            "Registrar and forking (RFC 3261): every number, whom it rings, diverts.",
        ),
        ServiceKind.KEA: ("DHCP, as Kea reads it", "The planned address for each MAC address (RFC 2131)."),
        ServiceKind.DNSMASQ: ("DHCP, as dnsmasq reads it", "The same for a smaller server: take one of the two."),
        ServiceKind.ZONE: (
            "DNS",
            "A zone file as BIND reads it, by which units find the server (RFC 3263).",
        ),
        ServiceKind.NTP: ("The time", "For chrony: it answers the site's subnets, also without internet."),
    }
)
"""What each kind is called, and what is in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileLine:
    """A file, how long it is, and where it can be read."""

    name: str
    lines_count: int
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KindLine:
    """One kind of server: what its files are for, which there are, and what no file can say."""

    kind: ServiceKind
    title: str
    what: str
    files: tuple[FileLine, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ServicesView:
    """All files for servers of a revision. ``takes_hashes`` where a SIP server's file would need the units' hashes."""

    revision: int
    kinds: tuple[KindLine, ...]
    digests: tuple[str, ...]
    takes_hashes: bool
    has_vault: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TextView:
    """One file as text; it holds no secret."""

    revision: int
    name: str
    title: str
    text: str
    kind: ServiceKind
    digest: str


def page(ask: Ask) -> Answer:
    """Show which files there are."""
    head, _ = ask.book.now()
    served = _all(ask, next(iter(DIGESTS)))
    kinds = tuple(
        KindLine(
            kind=kind,
            title=_WHAT[kind][0],
            what=_WHAT[kind][1],
            files=tuple(
                FileLine(
                    name=file.name,
                    lines_count=file.text.count("\n"),
                    address=book_url(ask.book.name, "services", "text", file=file.name),
                )
                for file in one.files
            ),
            remarks=one.remarks,
        )
        for kind, one in served.items()
    )
    view = ServicesView(
        revision=head.number,
        kinds=kinds,
        digests=tuple(DIGESTS),
        takes_hashes=bool(served[ServiceKind.KAMAILIO].files),
        has_vault=ask.book.book.vault() is not None,
    )
    return Page(template="services/services.html", title="Services", view=view)


def text(ask: Ask) -> Answer:
    """Show one file as text, without secrets."""
    digest = _digest(ask)
    for kind, one in _all(ask, digest).items():
        for file in one.files:
            if file.name == ask.text("file") and not file.private:
                view = TextView(
                    revision=ask.book.now()[0].number,
                    name=file.name,
                    title=_WHAT[kind][0],
                    text=file.text,
                    kind=kind,
                    digest=digest,
                )
                return Page(template="services/text.html", title=PurePosixPath(file.name).name, view=view)
    raise HTTPException(404, f"there is no file {ask.text('file')!r} for servers of this revision")


def take(ask: Ask) -> Answer:
    """Give the files out; those that hold hashes only where the passphrase opens the vault."""
    kinds = _kinds(ask)
    digest = _digest(ask)
    passphrase = passphrase_of(ask) if ask.chosen("with_secrets") else None
    taken = take_services(ask.book.path, ask.means, kinds=kinds, digest=digest, passphrase=passphrase)
    files = taken.served.files
    stem = f"{ask.book.name}-revision-{taken.revision}"
    if len(files) == 1:
        (file,) = files
        return Download(name=PurePosixPath(file.name).name, media_type=_TEXT, content=file.text.encode())
    return Download(name=f"{stem}-servers.zip", media_type="application/zip", content=_zipped(files))


def _all(ask: Ask, digest: str) -> dict[ServiceKind, Served]:
    """Return what there is for each kind, made once for a revision."""
    head, walk = ask.book.now()

    def make() -> dict[ServiceKind, Served]:
        return {kind: served_by(walk, head.number, kinds=(kind,), digest=digest) for kind in ServiceKind}

    return ask.book.makings.held(f"services {digest}", head.number, make)


def _kinds(ask: Ask) -> tuple[ServiceKind, ...]:
    wanted = ask.texts("kind")
    strange = [one for one in wanted if one not in set(ServiceKind)]
    if strange:
        raise Refused(f"there is no server {strange[0]!r}", remedy=f"Servers: {', '.join(ServiceKind)}.")
    if not wanted:
        raise Refused("no server was chosen", remedy="Tick at least one.")
    return tuple(kind for kind in ServiceKind if kind in wanted)


def _digest(ask: Ask) -> str:
    digest = ask.text("digest") or next(iter(DIGESTS))
    if digest not in DIGESTS:
        raise Refused(f"there is no digest {digest!r}", remedy=f"Digests: {', '.join(DIGESTS)}.")
    return digest


def _zipped(files: tuple[ServerFile, ...]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in files:
            entry = zipfile.ZipInfo(file.name)  # dated 1980: the same revision gives the same archive
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = (0o100600 if file.private else 0o100644) << 16
            archive.writestr(entry, file.text)
    return packed.getvalue()


ROUTES: Final = (
    *get("/books/{book}/services", page),
    *get("/books/{book}/services/text", text),
    *post("/books/{book}/services", take, needs=Role.PLAN),
)
