"""What every paper says of the revision it was made from."""

from doorwright.render.pdf import Edition
from doorwright.store.record import Revision


def edition_of(revision: Revision) -> Edition:
    """Return what stands on the cover and in the footers of papers made from a revision."""
    return Edition(
        revision=revision.number, made_at=revision.made_at, made_by=revision.made_by, message=revision.message
    )
