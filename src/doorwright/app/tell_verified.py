"""What was heard of one part of a building, in words: as the command's table moves, and the page's."""

from typing import Final

from doorwright.model.aspect import Aspect, with_unit
from doorwright.probe.heard import Heard

HEADINGS: Final = ("part", "address", "answers", "SIP", "web", "RTSP", "clock", "certificate until", "MAC address")
NOTHING: Final = "-"
NOT_UP: Final = "Is the rehearsed building up? In another window: doorwright rehearse BOOK --wire"
"""What is said where no rehearsed part answers."""


def row_of(heard: Heard) -> tuple[str, ...]:
    """Return a row below ``HEADINGS``; what was not asked, or is not known, is ``NOTHING``."""
    answers = {True: "yes", False: "no", None: "no way there"}[heard.is_there]
    return (
        heard.target.name,
        heard.target.address,
        answers,
        heard.sip.text if heard.sip and heard.is_there else NOTHING,
        heard.web.text if heard.web and heard.is_there else NOTHING,
        heard.rtsp.text if heard.rtsp and heard.is_there else NOTHING,
        with_unit(Aspect.CLOCK, f"{heard.ahead_s:+d}") if heard.ahead_s is not None else NOTHING,
        heard.valid[1].isoformat() if heard.valid else NOTHING,
        " and ".join(heard.macs) or NOTHING,
    )
