"""Write the empty workbook that a survey fills in."""

from pathlib import Path

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.store.files import write_whole
from doorwright.store.workbook import template_bytes


def write_template(path: Path, means: Means) -> Path:
    """Write the template.

    Raises:
        Refused: there is a file of that name already.
    """
    if path.exists():
        raise Refused(f"{path} is there already", remedy="Choose another name, or move that file away.")
    write_whole(path, template(means))
    return path


def template(means: Means) -> bytes:
    """Return the template as xlsx."""
    return template_bytes(means.profiles())
