"""How speech and pictures cross the network: the choices and assumptions behind streams and speech quality."""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class MediaChoices:
    """What the site's units are set to send, and what the network is taken to do to it.

    ``packet_ms`` of speech go into one packet; ``loss_ratio`` of the packets are lost, in bursts longer by
    ``burst_ratio`` than chance would make them (1 is chance, ITU-T G.107); ``hop_delay_ms`` is the delay of one switch
    and its link, ``jitter_buffer_ms`` what a receiver holds back where its profile does not say. A link may be filled
    to ``link_use_ratio`` of its rate.
    """

    packet_ms: float = 20.0
    tagged: bool = True
    video_multicast: bool = False
    loss_ratio: float = 0.0
    burst_ratio: float = 1.0
    hop_delay_ms: float = 0.1
    jitter_buffer_ms: float = 40.0
    link_use_ratio: float = 0.5


USUAL_MEDIA: Final = MediaChoices()
"""What is assumed where a site says nothing."""
