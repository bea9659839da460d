"""Write the files for general-purpose servers: SIP, DHCP, DNS and time."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from doorwright.app.means import Means
from doorwright.app.vault import opened_secrets
from doorwright.kernel.errors import Refused
from doorwright.kernel.trail import Act
from doorwright.kernel.words import counted
from doorwright.loopback.moved_site import moved_site
from doorwright.loopback.places import Ports, places_of
from doorwright.model.naming import site_title
from doorwright.model.walk import Walk
from doorwright.render.services import (
    NOTHING_SERVED,
    Served,
    ServerFile,
    dnsmasq_files,
    kamailio_files,
    kea_files,
    ntp_files,
    zone_files,
)
from doorwright.store.book import Book
from doorwright.store.files import write_whole

_MEDIA_TYPE = "text/plain"


class ServiceKind(StrEnum):
    """The servers for which files are written, by the program that reads them or by what they are."""

    KAMAILIO = "kamailio"
    KEA = "kea"
    DNSMASQ = "dnsmasq"
    ZONE = "zone"
    NTP = "ntp"


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenServices:
    """The files written, those among them that hold secrets, and what no file could say."""

    revision: int
    files: tuple[Path, ...]
    private: tuple[Path, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenServices:
    """Files made in memory, of which revision."""

    revision: int
    served: Served


def write_services(
    book_path: Path,
    out: Path,
    means: Means,
    *,
    kinds: tuple[ServiceKind, ...],
    digest: str,
    passphrase: str | None = None,
    replace: bool = False,
    rehearsed: bool = False,
) -> WrittenServices:
    """Write files for servers from the latest revision into a folder, and note them in the book.

    Everything is made before the first file is written. SIP users' hashes are written only with the passphrase, into
    files of their own; the trail says so before they are there.

    Args:
        book_path: the book.
        out: the folder.
        means: who asks, and when.
        kinds: the servers wanted.
        digest: one of ``DIGESTS``.
        passphrase: the vault's, where hashes are wanted.
        replace: write over files that are there with other content.
        rehearsed: with the loopback addresses of ``rehearse --wire``, for a SIP server on this machine. Such files are
            no papers of the revision: the book does not remember them.

    Raises:
        Refused: the site has nothing for these servers, the passphrase is wrong, other files are in the way, or the
            folder cannot be written.
    """
    with Book.open(book_path) as book:
        means.progress("making the files for servers")
        revision, served = _served(book, kinds, digest, passphrase, rehearsed=rehearsed)
        if not replace:
            _see_free(out, served.files)
        _note_secrets(book, means, served, revision)
        for file in served.files:
            write_whole(out / file.name, file.text.encode(), private=file.private)
            if not rehearsed:
                _record(book, means, file, revision)
        _note_files(book, means, served, revision)
    return WrittenServices(
        revision=revision,
        files=tuple(out / file.name for file in served.files),
        private=tuple(out / file.name for file in served.files if file.private),
        remarks=served.remarks,
    )


def take_services(
    book_path: Path, means: Means, *, kinds: tuple[ServiceKind, ...], digest: str, passphrase: str | None = None
) -> TakenServices:
    """Make the same files as ``write_services`` in memory, and note them in the book: for a download.

    Args:
        book_path: the book.
        means: who asks, and when.
        kinds: the servers wanted.
        digest: one of ``DIGESTS``.
        passphrase: the vault's, where hashes are wanted.

    Raises:
        Refused: the site has nothing for these servers, or the passphrase is wrong.
    """
    with Book.open(book_path) as book:
        revision, served = _served(book, kinds, digest, passphrase)
        _note_secrets(book, means, served, revision)
        for file in served.files:
            _record(book, means, file, revision)
        _note_files(book, means, served, revision)
    return TakenServices(revision=revision, served=served)


def served_by(
    walk: Walk,
    revision: int,
    *,
    kinds: tuple[ServiceKind, ...] = tuple(ServiceKind),
    digest: str,
    secrets: Mapping[str, str] | None = None,
) -> Served:
    """Return the files of a revision for some servers, and the remarks; nothing is noted.

    Args:
        walk: the site of the revision.
        revision: its number.
        kinds: the servers wanted.
        digest: one of ``DIGESTS``.
        secrets: every secret by the identifier of its mark, where hashes are wanted.
    """
    title = f"{site_title(walk.site.name)}, revision {revision}"
    served = NOTHING_SERVED
    for kind in ServiceKind:
        if kind in kinds:
            served += _made(kind, walk, title, revision=revision, digest=digest, secrets=secrets)
    return served


def _served(
    book: Book, kinds: tuple[ServiceKind, ...], digest: str, passphrase: str | None, *, rehearsed: bool = False
) -> tuple[int, Served]:
    """Return the newest revision and its files; with the passphrase, hashes too."""
    revision = book.head().number
    secrets = opened_secrets(book, passphrase) if passphrase is not None else None
    site = book.site(revision)
    walk = Walk(moved_site(site, places_of(Walk(site), Ports())) if rehearsed else site)
    served = served_by(walk, revision, kinds=kinds, digest=digest, secrets=secrets)
    if not served.files:
        raise Refused("there is nothing to write for these servers", remedy=" ".join(_sentences(served.remarks)))
    return revision, served


def _note_secrets(book: Book, means: Means, served: Served, revision: int) -> None:
    """Let the trail say that hashes are taken out, before they are."""
    if served.hashes_count:
        units = counted(served.hashes_count, "unit")
        about = f"digest hashes of {units} in files for servers, revision {revision}"
        book.note_trail(means.trace(Act.SECRETS_SHOWN, about))


def _record(book: Book, means: Means, file: ServerFile, revision: int) -> None:
    """Remember a file; one that holds secrets leaves nothing in the book."""
    if not file.private:
        book.record_artefact(
            revision=revision, name=file.name, media_type=_MEDIA_TYPE, content=file.text.encode(), at=means.now()
        )


def _note_files(book: Book, means: Means, served: Served, revision: int) -> None:
    count = counted(len(served.files), "file")
    book.note_trail(means.trace(Act.PAPERS, f"{count} for servers, revision {revision}"))


def _made(
    kind: ServiceKind, walk: Walk, title: str, *, revision: int, digest: str, secrets: Mapping[str, str] | None
) -> Served:
    match kind:
        case ServiceKind.KAMAILIO:
            return kamailio_files(walk, title, digest=digest, secrets=secrets)
        case ServiceKind.KEA:
            return kea_files(walk, title)
        case ServiceKind.DNSMASQ:
            return dnsmasq_files(walk, title)
        case ServiceKind.ZONE:
            return zone_files(walk, title, revision)
        case ServiceKind.NTP:
            return ntp_files(walk, title)


def _see_free(out: Path, files: tuple[ServerFile, ...]) -> None:
    """Refuse where a file of the same name says something else: somebody may have worked on it."""
    in_the_way = [out / file.name for file in files if _differs(out / file.name, file.text.encode())]
    if in_the_way:
        raise Refused(
            f"{', '.join(map(str, in_the_way))}: there already, with other content",
            remedy="Choose another folder with --out, or write over them with --replace.",
        )


def _differs(path: Path, content: bytes) -> bool:
    try:
        return path.exists() and path.read_bytes() != content
    except OSError:
        return True


def _sentences(remarks: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"{remark}." for remark in remarks)
