"""The book: everything known of one site in one file: revisions, what was seen, said, made and done, and the vault.

Every request is one transaction: it is done whole and confirmed, or refused and nothing has changed.
"""

import hashlib
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import Any, Final, Self

from sqlalchemy import Connection, and_, func, insert, select

from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.observation import Observation
from doorwright.kernel.signoff import SignOff
from doorwright.kernel.trail import Trace
from doorwright.kernel.waiver import Waiver
from doorwright.kernel.work import WorkRecord
from doorwright.model.change import Changes, diff
from doorwright.model.site import Site
from doorwright.store import codec, given, onsite, rows
from doorwright.store.bookfile import answers, engine_of, make_tables, placed, recognise
from doorwright.store.given import next_number
from doorwright.store.onsite import Numbered
from doorwright.store.photograph import Photograph
from doorwright.store.record import Artefact, ColumnMap, Revision, WaiverEnd, tally
from doorwright.store.tables import (
    ARTEFACT,
    ATTACHMENT,
    COLUMN_MAP,
    OBSERVATION,
    REVISION,
    SIGN_OFF,
    TRAIL,
    VAULT_ENTRY,
    VAULT_HEADER,
    WAIVER,
    WAIVER_END,
)
from doorwright.store.vault import SealedVault

_ZLIB_LEVEL: Final = 3
"""Of a document of 10 000 dwellings, level 3 takes a third of the time of level 6 and 8 % more room."""

_NOTHING_SEALED: Final[Mapping[str, bytes]] = MappingProxyType({})
_EMPTY: Final = Site(name="")
_HEAD: Final = select(func.max(REVISION.c.number)).scalar_subquery()
_ABOUT: Final = tuple(column for column in REVISION.c if column.name not in ("form", "document"))


class Book:
    """One open book. Threads may share it; nothing is held between two requests."""

    def __init__(self, path: Path, *, read_only: bool) -> None:
        self.path = path
        self.read_only = read_only
        self._engine = engine_of(path, "ro" if read_only else "rw")
        self._known: tuple[int, Site] | None = None
        self._closed = False

    # the file

    @classmethod
    def create(cls, location: Path, site: Site, *, by: str, at: datetime, message: str) -> Self:
        """Make a new book whose first revision is ``site``, and open it.

        Raises:
            Refused: something is at ``location`` already, or the file cannot be made; then there is no file.
        """
        location = location.absolute()
        values = _revision_values(_EMPTY, site, number=1, by=by, at=at, message=message)
        with placed(location) as draft, answers(location):
            engine = engine_of(draft, "rwc")
            with engine.execution_options(writing=True).begin() as connection:
                make_tables(connection)
                connection.execute(insert(REVISION), values)
            engine.dispose()
        return cls.open(location)

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False) -> Self:
        """Open a book. A book that may only be read, or lies in a folder that may, opens with ``read_only``.

        Raises:
            Refused: it is not there, is no book, is damaged, comes from a newer Doorwright, or may not be written.
        """
        path = path.resolve()
        recognise(path, read_only=read_only)
        return cls(path, read_only=read_only)

    def close(self) -> None:
        """Let go of the book. Every confirmed save is on the disk already."""
        self._closed = True
        self._known = None
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        self._see_open()
        with answers(self.path), self._engine.connect() as connection:
            yield connection  # one transaction, given up at the end: what is read belongs together

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        self._see_open()
        if self.read_only:
            raise Refused(f"{self.path} is open for reading only", remedy="Open it for writing.")
        with answers(self.path), self._engine.execution_options(writing=True).begin() as connection:
            yield connection

    def _see_open(self) -> None:
        if self._closed:
            raise ValueError(f"{self.path} was closed")

    # revisions

    def head(self) -> Revision:
        """Return the newest revision."""
        with self._reading() as connection:
            return self._head(connection)

    def revisions(self) -> tuple[Revision, ...]:
        """Return every revision, the oldest first."""
        with self._reading() as connection:
            return tuple(rows.revision(row) for row in connection.execute(select(*_ABOUT).order_by(REVISION.c.number)))

    def site(self, number: int | None = None) -> Site:
        """Return the site as saved in a revision, the newest where none is named.

        Raises:
            Refused: the book has no such revision, or its document is damaged.
        """
        with self._reading() as connection:
            return self._site(connection, number)

    def changes(self, number: int, *, since: int | None = None) -> Changes:
        """Return what leads from revision ``since`` (its parent where none is named) to revision ``number``.

        The first revision has no parent: its changes lead from an empty site.

        Raises:
            Refused: the book has no such revision, or a document is damaged.
        """
        with self._reading() as connection:
            after = self._site(connection, number)
            before_number = since if since is not None else number - 1
            before = self._site(connection, before_number) if since is not None or number > 1 else _EMPTY
        return diff(before, after)

    def save(
        self,
        site: Site,
        *,
        parent: int,
        by: str,
        at: datetime,
        message: str,
        sealed: Mapping[str, bytes] = _NOTHING_SEALED,
    ) -> Revision:
        """Save ``site`` as the revision after ``parent``, with the secrets sealed for it, and return that revision.

        An unchanged site with nothing sealed makes no revision: the newest is returned.

        Raises:
            Refused: somebody saved since ``parent``, the site has values that would not be read again, or the file
                cannot be written. Nothing was saved.
            ValueError: secrets were sealed for a book without a vault, or ``at`` names no time zone.
        """
        with self._writing() as connection:
            head = self._head(connection)
            if head.number != parent:
                raise _stale(head, parent)
            before = self._site(connection, head.number)
            if site == before and not sealed:
                return head
            if sealed and self._vault(connection) is None:
                raise ValueError("secrets were sealed for a book that has no vault")
            values = _revision_values(before, site, number=head.number + 1, by=by, at=at, message=message)
            connection.execute(insert(REVISION), values)
            if sealed:
                connection.execute(
                    insert(VAULT_ENTRY),
                    [{"id": ident, "revision": values["number"], "sealed": lump} for ident, lump in sealed.items()],
                )
            saved = self._head(connection)
        self._known = (saved.number, site)
        return saved

    def _head(self, connection: Connection) -> Revision:
        return rows.revision(connection.execute(select(*_ABOUT).where(REVISION.c.number == _HEAD)).one())

    def _site(self, connection: Connection, number: int | None) -> Site:
        wanted = REVISION.c.number == (number if number is not None else _HEAD)
        if number is None:
            number = connection.execute(select(REVISION.c.number).where(wanted)).scalar_one()
        known = self._known
        if known is not None and known[0] == number:  # a revision never changes, so what was read once holds
            return known[1]
        packed = connection.execute(select(REVISION.c.document).where(wanted)).scalar_one_or_none()
        if packed is None:
            head = self._head(connection)
            raise Refused(
                f"the book has no revision {number}", remedy=f"Its revisions are numbered 1 to {head.number}."
            )
        try:
            document = zlib.decompress(packed)
        except zlib.error as error:
            raise Refused(
                f"{self.path} is damaged: the document of revision {number} cannot be unpacked",
                remedy="Restore the book from a copy, or go on from another revision.",
            ) from error
        site = codec.load(document)
        self._known = (number, site)
        return site

    # observations

    def observe(self, observations: Iterable[Observation], *, column_map: ColumnMap | None = None) -> int:
        """Record what was seen and return how many were new. One that is there already, the same, is passed over.

        With them goes the column map they were read through, where it is new: it counts from now on under its name.

        Raises:
            Refused: another observation has the same identifier, or a correction names none. Nothing was recorded.
        """
        with self._writing() as connection:
            new_count = given.observe(connection, tuple(observations))
            if column_map is not None:
                number = next_number(connection, COLUMN_MAP)
                connection.execute(insert(COLUMN_MAP), rows.column_map_values(column_map, number))
        return new_count

    def observations(self) -> tuple[Observation, ...]:
        """Return every observation in the order of recording."""
        with self._reading() as connection:
            return tuple(rows.observation(row) for row in connection.execute(select(OBSERVATION).order_by("number")))

    def column_maps(self) -> Mapping[str, ColumnMap]:
        """Return the column map that counts under each name, in order of first recording."""
        with self._reading() as connection:
            found = connection.execute(select(COLUMN_MAP).order_by(COLUMN_MAP.c.number))
            return {row.name: rows.column_map(row) for row in found}

    # waivers

    def waive(self, waiver: Waiver) -> None:
        """Record a waiver.

        Raises:
            Refused: it gives no reason or name, ends before it begins, or its identifier is taken.
        """
        with self._writing() as connection:
            given.waive(connection, waiver)

    def end_waiver(self, ident: str, *, by: str, on: date) -> None:
        """End a waiver: from ``on`` it covers nothing.

        Raises:
            Refused: the book has no such waiver, it was ended already, or ``on`` lies before its first day.
        """
        with self._writing() as connection:
            given.end_waiver(connection, ident, by=by, on=on)

    def waivers(self) -> tuple[Waiver, ...]:
        """Return every waiver in the order of recording; of one that was ended, ``until`` is the day before."""
        statement = select(WAIVER, WAIVER_END.c.ended_on).join_from(WAIVER, WAIVER_END, isouter=True)
        with self._reading() as connection:
            return tuple(rows.waiver(row) for row in connection.execute(statement.order_by(WAIVER.c.number)))

    def waiver_ends(self) -> tuple[WaiverEnd, ...]:
        """Return who ended which waiver, and from when."""
        statement = select(WAIVER_END).join(WAIVER).order_by(WAIVER.c.number)
        with self._reading() as connection:
            return tuple(rows.waiver_end(row) for row in connection.execute(statement))

    # sign-offs

    def sign_off(self, signed: SignOff) -> None:
        """Record a person's word.

        Raises:
            Refused: it gives no name or role, ends before its day, or its identifier is taken.
        """
        with self._writing() as connection:
            given.sign_off(connection, signed)

    def sign_offs(self) -> tuple[SignOff, ...]:
        """Return every sign-off in the order of recording."""
        with self._reading() as connection:
            return tuple(rows.sign_off(row) for row in connection.execute(select(SIGN_OFF).order_by(SIGN_OFF.c.number)))

    # work on site, and the trail

    def record_work(
        self, records: Sequence[WorkRecord], photographs: Iterable[Photograph] = ()
    ) -> tuple[WorkRecord, ...]:
        """Record what was done on site, with its photographs, and return what was new. The same again adds nothing.

        Raises:
            Refused: another record has the same identifier, a correction names none of its task, or a photograph is
                missing. Nothing was recorded.
        """
        with self._writing() as connection:
            return onsite.record_work(connection, records, {one.sha256: one for one in photographs})

    def work(self, since: int = 0) -> Numbered:
        """Return what was done on site in order of recording, after the record of a number; and the last number."""
        with self._reading() as connection:
            return onsite.work_since(connection, since)

    def photograph(self, sha256: str) -> Photograph | None:
        """Return a photograph by its fingerprint, or None where the book has none such."""
        with self._reading() as connection:
            row = connection.execute(select(ATTACHMENT).where(ATTACHMENT.c.sha256 == sha256)).one_or_none()
            return None if row is None else Photograph(row.media_type, row.content)

    def note_trail(self, noted: Trace) -> None:
        """Note in the trail what somebody did.

        Raises:
            Refused: the book cannot be written.
        """
        with self._writing() as connection:
            connection.execute(insert(TRAIL), rows.trace_values(noted, next_number(connection, TRAIL)))

    def trail(self) -> tuple[Trace, ...]:
        """Return the trail, the oldest first."""
        with self._reading() as connection:
            return tuple(rows.trace(row) for row in connection.execute(select(TRAIL).order_by(TRAIL.c.number)))

    # artefacts

    def record_artefact(self, *, revision: int, name: str, media_type: str, content: bytes, at: datetime) -> Artefact:
        """Record that a file was made from a revision: its size and SHA-256, not its content.

        Raises:
            Refused: the book has no such revision.
        """
        made = Artefact(
            revision=revision,
            name=name,
            media_type=media_type,
            bytes_count=len(content),
            sha256=hashlib.sha256(content).hexdigest(),
            made_at=at,
        )
        with self._writing() as connection:
            newest = self._head(connection).number
            if not 1 <= revision <= newest:
                raise Refused(f"the book has no revision {revision}", remedy=f"Its newest revision is {newest}.")
            connection.execute(
                insert(ARTEFACT),
                rows.artefact_values(made, next_number(connection, ARTEFACT)),
            )
        return made

    def artefacts(self) -> tuple[Artefact, ...]:
        """Return every recorded artefact in the order of recording."""
        with self._reading() as connection:
            return tuple(rows.artefact(row) for row in connection.execute(select(ARTEFACT).order_by(ARTEFACT.c.number)))

    # the vault

    def vault(self) -> SealedVault | None:
        """Return the book's vault, or None where it has none yet.

        Raises:
            Refused: its header is damaged or from a newer Doorwright.
        """
        with self._reading() as connection:
            return self._vault(connection)

    def set_vault_header(self, vault: SealedVault) -> None:
        """Give the book a vault, or its vault a new passphrase.

        Raises:
            Refused: the book has a different vault, whose secrets nobody could read any more.
        """
        with self._writing() as connection:
            there = self._vault(connection)
            if there is None:
                connection.execute(insert(VAULT_HEADER), {"number": 1, "header": vault.header})
            elif there.vault_id == vault.vault_id:
                connection.execute(VAULT_HEADER.update().values(header=vault.header))
            else:
                raise Refused(
                    "the book has a vault already; a different one would lock its secrets away for ever",
                    remedy="Open the vault that is there; its passphrase can be changed.",
                )

    def sealed(self, number: int | None = None) -> Mapping[str, bytes]:
        """Return the sealed secrets by identifier, as they stood at a revision (the newest where none is named)."""
        entries = select(VAULT_ENTRY.c.id, func.max(VAULT_ENTRY.c.revision).label("revision"))
        if number is not None:
            entries = entries.where(VAULT_ENTRY.c.revision <= number)
        latest = entries.group_by(VAULT_ENTRY.c.id).subquery()
        statement = select(VAULT_ENTRY.c.id, VAULT_ENTRY.c.sealed).join(
            latest, and_(VAULT_ENTRY.c.id == latest.c.id, VAULT_ENTRY.c.revision == latest.c.revision)
        )
        with self._reading() as connection:
            return {row.id: row.sealed for row in connection.execute(statement.order_by(VAULT_ENTRY.c.id))}

    def _vault(self, connection: Connection) -> SealedVault | None:
        header = connection.execute(select(VAULT_HEADER.c.header)).scalar_one_or_none()
        return None if header is None else SealedVault(header)

    # the whole

    def verify(self) -> tuple[Mistake, ...]:
        """Read the whole book and return what is damaged: its pages, its references, its documents, its vault."""
        found: list[Mistake] = []
        self._known = None
        with self._reading() as connection:
            with self._noting(found, str(self.path)):
                for (problem,) in connection.exec_driver_sql("PRAGMA integrity_check"):
                    if problem != "ok":
                        found.append(_damage(str(self.path), problem))
            with self._noting(found, str(self.path)):
                for table, row, other, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
                    found.append(_damage(f"table {table}", f"row {row} names a row of {other} that is not there"))
            for number in range(1, self._head(connection).number + 1):
                with self._noting(found, f"revision {number}"):
                    self._site(connection, number)
            with self._noting(found, "vault"):
                self._vault(connection)
        return tuple(found)

    @contextmanager
    def _noting(self, found: list[Mistake], where: str) -> Iterator[None]:
        """Note a refusal and go on: one damaged place does not hide the next."""
        try:
            with answers(self.path):
                yield
        except Refused as refusal:
            found.append(_damage(where, refusal.message))


def _damage(where: str, problem: str) -> Mistake:
    remedy = "Restore the book from a copy; keep the damaged file."
    return Mistake(where=where, read="", problem=problem, remedy=remedy)


def _revision_values(before: Site, site: Site, *, number: int, by: str, at: datetime, message: str) -> dict[str, Any]:
    """Return the row of a new revision, after seeing that its document reads back as the same site."""
    if not by.strip():
        raise Refused("nobody is named as the one who saves", remedy="Give a name.")
    if at.utcoffset() is None:
        raise ValueError(f"{at!r} names no time zone")
    document = codec.dump(site)
    try:
        again = codec.load(document)
    except Refused as refusal:
        raise Refused(
            "the site has values that could not be read again; it was not saved",
            remedy="Correct them and save again.",
            mistakes=refusal.mistakes,
        ) from refusal
    if again != site:
        raise ValueError(f"the document does not read back as the site: {diff(site, again)[:5]}")
    return {
        "number": number,
        "parent": number - 1 or None,
        "made_at": at,
        "made_by": by,
        "message": message,
        "form": codec.FORM,
        "document": zlib.compress(document, _ZLIB_LEVEL),
        "tallies": [rows.tally_json(counts) for counts in tally(diff(before, site))],
    }


def _stale(head: Revision, parent: int) -> Refused:
    if parent > head.number:
        return Refused(f"the book has no revision {parent}", remedy=f"Its newest revision is {head.number}.")
    return Refused(
        f"revision {head.number} was saved by {head.made_by} at {head.made_at:%Y-%m-%d %H:%M:%S %Z}"
        f" since you opened revision {parent}; nothing was overwritten",
        remedy=f"Open revision {head.number} and make your changes there.",
    )
