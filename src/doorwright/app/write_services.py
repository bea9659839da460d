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


def write_services(
    book_path: Path,
    out: Path,
    means: Means,
    *,
    kinds: tuple[ServiceKind, ...],
    digest: str,
    passphrase: str | None = None,
    replace: bool = False,
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

    Raises:
        Refused: the site has nothing for these servers, the passphrase is wrong, other files are in the way, or the
            folder cannot be written.
    """
    with Book.open(book_path) as book:
        revision = book.head()
        walk = Walk(book.site(revision.number))
        secrets = opened_secrets(book, passphrase) if passphrase is not None else None
        title = f"{site_title(walk.site.name)}, revision {revision.number}"
        means.progress("making the files for servers")
        served = NOTHING_SERVED
        for kind in ServiceKind:
            if kind in kinds:
                served += _made(kind, walk, title, revision=revision.number, digest=digest, secrets=secrets)
        if not served.files:
            raise Refused("there is nothing to write for these servers", remedy=" ".join(_sentences(served.remarks)))
        if not replace:
            _see_free(out, served.files)
        about = f"revision {revision.number}"
        if served.hashes_count:
            units = counted(served.hashes_count, "unit")
            book.note_trail(means.trace(Act.SECRETS_SHOWN, f"digest hashes of {units} in files for servers, {about}"))
        for file in served.files:
            content = file.text.encode()
            write_whole(out / file.name, content, private=file.private)
            if not file.private:
                book.record_artefact(
                    revision=revision.number,
                    name=file.name,
                    media_type=_MEDIA_TYPE,
                    content=content,
                    at=means.now(),
                )
        count = counted(len(served.files), "file")
        book.note_trail(means.trace(Act.PAPERS, f"{count} for servers, {about}"))
    return WrittenServices(
        revision=revision.number,
        files=tuple(out / file.name for file in served.files),
        private=tuple(out / file.name for file in served.files if file.private),
        remarks=served.remarks,
    )


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
