"""The cover: which site, which revision, how much of everything, and what to beware of."""

from typing import Final

from doorwright.model.door import Door
from doorwright.model.naming import site_title
from doorwright.model.network import CableRun, SipServer, Switch
from doorwright.model.place import Core, Dwelling, Entrance
from doorwright.model.unit import SecretMark, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.render.pdf.papers.findings import tally
from doorwright.render.pdf.papers.paper import Paper
from doorwright.rules.judge import Assessment

CAUTIONS: Final = (
    (
        "Locks and escape routes",
        "A door on an escape route must open without a key, on fire alarm and on loss of power as the fire strategy "
        "and the local code ask. Doorwright records and asks; it approves nothing. A competent person does.",
    ),
    (
        "Mains and fixed wiring",
        "Only a licensed electrician, after the local wiring rules. The figures here are for extra-low-voltage "
        "circuits alone.",
    ),
    (
        "Work at height, drilling, old fabric",
        "Site rules apply. Do not drill into a wall before you know what is in it.",
    ),
    (
        "A calculation is an aid, not a certificate",
        "Measure on site: the voltage at the lock, the cable, the time of release.",
    ),
    (
        "No life-safety system",
        "Door entry is no life-safety or emergency-call system unless it was designed as one.",
    ),
    (
        "Personal data",
        "Names, faces, movements and codes of residents are personal data. Keep little, show little, and do not leave "
        "these papers in a lobby.",
    ),
    (
        "The network",
        "Probe it only with its owner's permission, only at the addresses of this plan, and gently.",
    ),
)


def cover(walk: Walk, assessment: Assessment) -> Paper:
    """Return what the cover says."""
    site = walk.settings()
    grade = f", grade {site.grade}" if site.grade is not None else ""
    facts = (
        ("Reference", site.reference),
        ("Record kept by", site.record_keeper),
        ("Asked for by the owner", f"{site.standard_edition}{grade}" if site.standard_edition else None),
        ("Time zone", site.time_zone),
    )
    return {
        "site": site_title(site.name),
        "facts": [{"name": name, "value": value} for name, value in facts],
        "counts": [{"name": name, "count": str(count)} for name, count in _counts(walk)],
        "tally": tally(assessment),
        "cautions": [{"title": title, "text": text} for title, text in CAUTIONS],
        "secrets": _secrets(walk),
    }


def _counts(walk: Walk) -> list[tuple[str, int]]:
    return [
        ("cores", len(walk.all(Core))),
        ("dwellings", len(walk.all(Dwelling))),
        ("entrances", len(walk.all(Entrance))),
        ("doors", len(walk.all(Door))),
        *((kind.value, len(walk.units_of_kind(kind))) for kind in UnitKind),
        ("switches", len(walk.all(Switch))),
        ("SIP servers", len(walk.all(SipServer))),
        ("cable runs", len(walk.all(CableRun))),
    ]


def _secrets(walk: Walk) -> str:
    count = len(walk.all(SecretMark))
    if not count:
        return (
            "No secret has been issued yet. Once they are, they lie in the vault and on the sealed sheet, "
            "a paper of its own, never in this pack."
        )
    unit_word = "unit" if len(walk.all(Unit)) == 1 else "units"
    return (
        f"This pack holds no secret. The {count} device and SIP secrets of the {unit_word} and switches lie in the "
        "vault and on the sealed sheet, a paper of its own; cards name the line of that sheet. Keep the two apart."
    )
