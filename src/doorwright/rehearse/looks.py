"""What a fault looks like to somebody on site, in the words in which the trade tells it (common practice)."""

from enum import StrEnum


class Look(StrEnum):
    """What is seen."""

    DARK = "unit dark; no link"
    NO_REPLY = "link and power, no reply from anywhere in the plan"
    TWO_MACS = "replies come and go, two MACs for one address"
    NEAR_ONLY = "reached from the same subnet only"
    ELSEWHERE = "unit answers elsewhere"
    NO_ATTEMPT = "unit on the network, never registers, no attempt seen at the registrar"
    REFUSED_401 = "attempts seen at the registrar, answered 401 for ever"
    REFUSED_403 = "never comes on line; answered 403"
    REFUSED_404 = "never comes on line; answered 404"
    RINGS_ELSEWHERE = "registers, but the call rings elsewhere"
    TWO_RING = "two homes ring"
    ONE_KEY = "that key alone rings the wrong home"
    SOME_HOURS = "calls fail at some hours only"
    NOT_HEARD = "call set up, nobody hears it"
    ONE_WAY = "voice one way"
    RELEASE_DEAD = "release does nothing"
    OTHER_DOOR = "release frees another door"
    CALLS_FAIL = "calls do not arrive"
