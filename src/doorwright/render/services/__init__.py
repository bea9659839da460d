"""Files for general-purpose servers, made from a site: SIP, DHCP, DNS and time, one file a server program.

Each function returns a ``Served``: the files as text, and remarks on what the site has that no file can say. What a
remark tells stands in the file too, as a note. Labels reach the files through ``spelling`` alone.
"""

from doorwright.render.services.accounts import DIGESTS
from doorwright.render.services.dnsmasq import dnsmasq_files
from doorwright.render.services.kamailio import kamailio_files
from doorwright.render.services.kea import kea_files
from doorwright.render.services.ntp import ntp_files
from doorwright.render.services.served import NOTHING_SERVED, Served, ServerFile
from doorwright.render.services.zone import zone_files

__all__ = [
    "DIGESTS",
    "NOTHING_SERVED",
    "Served",
    "ServerFile",
    "dnsmasq_files",
    "kamailio_files",
    "kea_files",
    "ntp_files",
    "zone_files",
]
