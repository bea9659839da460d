"""QR codes that tell which unit is in one's hand: its name and serial number. No secret, and no address to open."""

from io import BytesIO
from typing import Final

import segno

_NAME_COUNT: Final = 80
_QUIET: Final = 4
"""Modules of white around the code (ISO/IEC 18004 asks for four; from memory)."""


def identity(word: str, name: str, serial: str | None) -> str:
    """Return what the code of a part says; ``word`` is "unit" or "switch"."""
    says = f"doorwright {word} {name[:_NAME_COUNT]}" + (f" serial {serial}" if serial else "")
    return says.encode("utf-8", "replace").decode()  # a lone surrogate, from a broken file, has no UTF-8


def code_svg(text: str) -> str:
    """Return the QR code of a text as SVG, its quiet zone included. Error correction level M."""
    out = BytesIO()
    segno.make(text, micro=False, error="m", encoding="utf-8").save(
        out, kind="svg", xmldecl=False, border=_QUIET, svgclass=None, lineclass=None, omitsize=True
    )
    return out.getvalue().decode()
