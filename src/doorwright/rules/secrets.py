"""Secrets: each issued, each its own, each hard to guess. No message here repeats a secret or a part of one."""

from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Missing, Phase, Severity
from doorwright.model.naming import named
from doorwright.model.network import Switch
from doorwright.model.place import Dwelling
from doorwright.model.profile import ALPHABETS, Profile, SecretPolicy
from doorwright.model.site import Site
from doorwright.model.unit import SecretMark, SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import as_it_is, both, plus, put_profile, without
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Lacks, Said, lacks, rule
from doorwright.rules.saying import found_or_holds, some
from doorwright.studies.secret_strength import secret_strength

PHASES: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.HANDOVER, Phase.OPERATION)
VAULT_SHUT: Final = Lacks((Missing("vault", "passphrase"),))

ENOUGH_BIT: Final = 64.0
"""Least entropy of a device or SIP secret. Common practice; for comparison, NIST SP 800-63B asks 15 characters of a
secret that stands alone, and a digest (RFC 8760) can be guessed at off line by whoever has seen one registration."""

TELLTALE_COUNT: Final = 4
"""Shortest fact that is looked for inside secrets: fewer characters turn up in random ones by chance."""

_CHARACTERS: Final = {alphabet: frozenset(characters) for alphabet, characters in ALPHABETS.items()}


def _policies(profile: Profile) -> tuple[tuple[SecretUse, SecretPolicy], ...]:
    pairs = ((SecretUse.DEVICE, profile.device_secret), (SecretUse.SIP, profile.sip_secret))
    return tuple((use, policy) for use, policy in pairs if policy is not None)


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PHASES,
    cites=(Cite("si2023-1007", "Schedule 1, paragraph 1"), Cite("en303645", "5.1-1"), Cite("rfc3261", "§22")),
    finds=Example("The SIP secret of the desk is taken away.", without(SecretMark, "secret-smu-desk-sip")),
    passes=Example("Every unit has the secrets that its profile asks for.", as_it_is),
)
def secret_not_issued(facts: Facts, unit: Unit) -> Said:
    """A unit has no secret of its own where its type asks for one.

    Why it matters: it keeps the password that its maker prints in every manual, or cannot register at all.
    What to do: let the secrets planner issue it into the vault.
    """
    yield from _not_issued(facts.walk, unit)


@rule(
    over=Switch,
    severity=Severity.ERROR,
    phases=PHASES,
    cites=(Cite("si2023-1007", "Schedule 1, paragraph 1"), Cite("en303645", "5.1-1")),
    finds=Example("The secret of the riser's switch is taken away.", without(SecretMark, "secret-switch-1-device")),
    passes=Example("Every switch has the secret that its profile asks for.", as_it_is),
)
def switch_secret_not_issued(facts: Facts, switch: Switch) -> Said:
    """A switch has no secret of its own where its type asks for one.

    Why it matters: whoever opens the riser cupboard can turn off ports, or listen, with the maker's own password.
    What to do: let the secrets planner issue it into the vault.
    """
    yield from _not_issued(facts.walk, switch)


def _not_issued(walk: Walk, part: Unit | Switch) -> Said:
    profile = walk.profile(part.profile)
    if profile is None:
        yield lacks(part, "profile")
        return
    wanted = _policies(profile)
    if wanted:
        issued = {mark.use for mark in walk.secrets_of(part.id)}
        yield from found_or_holds(
            Found(f"{named(walk, part)} has no {use.value}") for use, _ in wanted if use not in issued
        )


@rule(
    over=Site,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING,),
    cites=(Cite("en303645", "5.1-2"), Cite("sp800-63b", "§3.1.1.2"), Cite("rfc8760"), Cite("practice", "64 bits")),
    finds=Example(
        "The units in the dwellings take a SIP secret of eight digits.",
        put_profile("uru-video", sip_secret=SecretPolicy(length_min_count=8, length_max_count=8, alphabet="digits")),
    ),
    passes=Example(
        "They take one of up to twenty digits.",
        put_profile("uru-video", sip_secret=SecretPolicy(length_min_count=8, length_max_count=20, alphabet="digits")),
    ),
)
def secret_policy_too_weak(facts: Facts, _: Site) -> Said:
    """A unit type takes only secrets that can be guessed.

    Why it matters: whoever records one registration can try secrets off line, as fast as their machine allows.
    What to do: prefer a type that takes longer secrets, and keep the network of the units closed to others.
    """
    for profile in facts.walk.settings().profiles:
        for use, policy in _policies(profile):
            study = secret_strength(policy)
            if study.value is None:
                yield Lacks(study.missing)
            elif study.value.longest_bit < ENOUGH_BIT:
                yield Found(
                    f"{profile.title} ({profile.key}): the longest {use.value}, {policy.length_max_count} of"
                    f" {policy.alphabet}, has {study.value.longest_bit:.1f} bit, wanted {ENOUGH_BIT:.0f} bit"
                )
            else:
                yield HOLDS


@rule(
    over=SecretMark,
    severity=Severity.ERROR,
    phases=PHASES,
    cites=(Cite("practice", "a secret lies in the vault under its mark"),),
    finds=Example(
        "A secret is marked as issued to the desk of which the vault knows nothing.",
        plus(SecretMark(id="secret-99", owner="smu-desk", use=SecretUse.DEVICE, line=99)),
    ),
    passes=Example("The vault holds every secret that is marked as issued.", as_it_is),
)
def secret_not_in_vault(facts: Facts, mark: SecretMark) -> Said:
    """A secret is marked as issued but is not in the vault, or its owner is not in the site.

    Why it matters: it is on a unit and nobody can read it any more; the unit must be reset to be entered again.
    What to do: put back the vault from a copy, or issue a new secret and set it at both ends.
    """
    if facts.walk.part(mark.owner) is None:
        yield Found(f"{mark.label}: the {mark.use.value} belongs to {mark.owner!r}, which the site does not have")
    elif facts.secrets is None:
        yield VAULT_SHUT
    elif facts.secrets.get(mark.id):
        yield HOLDS
    else:
        yield Found(f"{mark.label}: the {mark.use.value} of {_owner(facts.walk, mark)} is not in the vault")


@rule(
    over=SecretMark,
    severity=Severity.ERROR,
    phases=PHASES,
    cites=(Cite("practice", "the data sheet says which secrets a unit takes"), Cite("en303645", "5.1-1")),
    finds=Example(
        "The desk's type comes to want SIP secrets of sixteen characters; the one issued has twelve.",
        put_profile(
            "smu-desk",
            sip_secret=SecretPolicy(length_min_count=16, length_max_count=16, alphabet="letters and digits"),
        ),
    ),
    passes=Example(
        "It comes to want twelve.",
        put_profile(
            "smu-desk",
            sip_secret=SecretPolicy(length_min_count=12, length_max_count=12, alphabet="letters and digits"),
        ),
    ),
)
def secret_not_accepted(facts: Facts, mark: SecretMark) -> Said:
    """A secret is longer, shorter or of other characters than its unit accepts.

    Why it matters: the unit refuses it on site, or cuts it off silently, and the other end no longer agrees.
    What to do: issue a new secret by the policy of the unit's profile.
    """
    found = _opened(facts, mark)
    if isinstance(found, Lacks):
        yield found
    elif found:
        yield from _accepted(facts.walk, mark, found)


def _accepted(walk: Walk, mark: SecretMark, secret: str) -> Said:
    owner = walk.find(Unit, mark.owner) or walk.find(Switch, mark.owner)
    profile = walk.profile(owner.profile) if owner else None
    policy = next((policy for use, policy in _policies(profile) if use is mark.use), None) if profile else None
    if policy is None:
        return
    characters = _CHARACTERS.get(policy.alphabet)
    if characters is None:
        yield Lacks((Missing("profile", f"alphabet of the {mark.use.value}"),))
        return
    if not policy.length_min_count <= len(secret) <= policy.length_max_count:
        yield Found(
            f"{mark.label}: the {mark.use.value} of {_owner(walk, mark)} has {len(secret)} characters,"
            f" it takes {policy.length_min_count} to {policy.length_max_count}"
        )
    elif not characters.issuperset(secret):
        yield Found(
            f"{mark.label}: the {mark.use.value} of {_owner(walk, mark)} has characters other than {policy.alphabet}"
        )
    else:
        yield HOLDS


def _opened(facts: Facts, mark: SecretMark) -> str | Lacks | None:
    """Return the secret of a mark, what is missing to read it, or None where ``secret-not-in-vault`` tells of it."""
    if facts.secrets is None:
        return VAULT_SHUT
    return facts.secrets.get(mark.id) or None


def _owner(walk: Walk, mark: SecretMark) -> str:
    owner = walk.part(mark.owner)
    return named(walk, owner) if owner else repr(mark.owner)


@rule(
    over=Site,
    severity=Severity.ERROR,
    phases=PHASES,
    cites=(
        Cite("si2023-1007", "Schedule 1, paragraph 1: unique per product"),
        Cite("en303645", "5.1-1"),
        Cite("practice", "the SIP secret differs from the device secret"),
    ),
    finds=Example(
        "The desk's SIP secret is the one of the unit in dwelling 101.",
        both(
            without(SecretMark, "secret-smu-desk-sip"),
            plus(SecretMark(id="repeated", owner="smu-desk", use=SecretUse.SIP, line=90)),
        ),
    ),
    passes=Example("No two secrets are the same.", as_it_is),
)
def secret_used_twice(facts: Facts, _: Site) -> Said:
    """One secret is used for two purposes.

    Why it matters: whoever learns it from one unit has the others as well; a SIP secret travels further than the
    secret of a unit's own settings and should not open them.
    What to do: issue a new secret for all but one of them.
    """
    marks = facts.walk.all(SecretMark)
    if not marks:
        return
    if facts.secrets is None:
        yield VAULT_SHUT
        return
    marks_of: dict[str, list[SecretMark]] = {}
    for mark in marks:
        secret = facts.secrets.get(mark.id)
        if secret:
            marks_of.setdefault(secret, []).append(mark)
    yield from found_or_holds(_repeated(facts.walk, group) for group in marks_of.values() if len(group) > 1)


def _repeated(walk: Walk, marks: list[SecretMark]) -> Found:
    marks = sorted(marks, key=lambda mark: (mark.line, mark.id))
    uses = some(f"{mark.use.value} of {_owner(walk, mark)}, line {mark.line}" for mark in marks)
    return Found(f"one secret is used {len(marks)} times: {uses}", tuple(marks))


@rule(
    over=SecretMark,
    severity=Severity.ERROR,
    phases=PHASES,
    cites=(Cite("si2023-1007", "Schedule 1, paragraph 1: not made from public facts or serial numbers"),),
    finds=Example(
        "The desk's SIP secret is its serial number and three more characters.",
        both(
            without(SecretMark, "secret-smu-desk-sip"),
            plus(SecretMark(id="from-the-box", owner="smu-desk", use=SecretUse.SIP, line=91)),
        ),
    ),
    passes=Example("The secrets are random.", as_it_is),
)
def secret_guessable(facts: Facts, mark: SecretMark) -> Said:
    """A secret contains the serial number, MAC address, name or call number of its unit.

    Why it matters: these are printed on the box and on the door; they are the first that anybody tries.
    What to do: issue a new secret, drawn by chance.
    """
    found = _opened(facts, mark)
    if isinstance(found, Lacks):
        yield found
    elif found:
        secret = found.casefold()
        owner = facts.walk.find(Unit, mark.owner) or facts.walk.find(Switch, mark.owner)
        texts = facts.walk.once(_facts_about, owner) if owner is not None else ()
        known = [word for word, text in texts if text in secret]
        yield from found_or_holds(
            Found(f"{mark.label}: the {mark.use.value} of {_owner(facts.walk, mark)} contains its {word}")
            for word in known
        )


def _facts_about(walk: Walk, part: Unit | Switch) -> tuple[tuple[str, str], ...]:
    """Return what anybody can read of a unit, in words and as it could stand in a secret."""
    dwelling = walk.find(Dwelling, part.dwelling) if isinstance(part, Unit) else None
    number = (part.call_number if isinstance(part, Unit) else None) or (dwelling.call_number if dwelling else None)
    texts = (
        ("serial number", part.serial),
        ("MAC address", _plain(part.mac)[-6:]),
        ("name", part.name),
        ("call number", number),
        ("door label", dwelling.door_label if dwelling else None),
    )
    return tuple((word, plain) for word, text in texts if len(plain := _plain(text)) >= TELLTALE_COUNT)


def _plain(text: str | None) -> str:
    """Return a text without what names and addresses have and secrets have not: large letters, spaces, dashes."""
    return "".join(filter(str.isalnum, (text or "").casefold()))
