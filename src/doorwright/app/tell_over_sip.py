"""What registrars and a test call told, in words: as commands and pages show it."""

from typing import Final

from doorwright.app.call_unit import CalledUnit
from doorwright.app.tell_verified import NOTHING
from doorwright.app.verify_registrations import VerifiedRegistrations
from doorwright.model.aspect import Standing
from doorwright.probe.call import Called
from doorwright.probe.reach import Outcome
from doorwright.probe.registration import Registration
from doorwright.studies.measured_speech import MeasuredSpeech

REGISTRATION_HEADINGS: Final = ("unit", "planned address", "registrar", "its answer", "registered at", "for")
CALL_HEADINGS: Final = ("speech", "packets", "lost", "too late", "jitter", "delay", "R", "MOS")
_OTHER_SECRETS: Final = (
    "Every secret was refused: has the rehearsed building those of the vault? Bring it up with: doorwright rehearse"
    " BOOK --wire --vault-secrets"
)
_MUTED: Final = (
    "Did anybody hear it ring there? A unit that is muted or set not to disturb says that it rings all the same."
)
_CODES: Final = {"480": "nobody there", "486": "busy", "600": "busy", "603": "declined"}


def registration_row(one: Registration) -> tuple[str, ...]:
    """Return a row below ``REGISTRATION_HEADINGS``."""
    said = one.reply.text
    if one.reply.outcome is Outcome.NO_WAY:
        said = "no way there"
    elif one.standing is not None:
        said = f"{one.standing} ({one.reply.text})"
    where = "not known"
    if one.bindings is not None:
        where = " and ".join([*([one.registrant.address] if one.own else []), *one.elsewhere]) or "nowhere"
    left_s = one.own.left_s if one.own is not None else None
    return (
        one.registrant.name,
        one.registrant.address,
        one.registrant.registrar,
        said,
        where,
        NOTHING if left_s is None else f"{left_s} s",
    )


def rehearsed_registration_notes(verified: VerifiedRegistrations) -> tuple[str, ...]:
    """Return what is to be said beside what rehearsed registrars told."""
    refused = [one.standing is Standing.REFUSED for one in verified.heard]
    return (_OTHER_SECRETS,) if refused and all(refused) else ()


def call_words(called: Called) -> str:
    """Return in a few words what became of a test call."""
    if called.outcome is Outcome.NO_WAY:
        return "This machine has no way there."
    if called.outcome is not Outcome.ANSWERED:
        return "No answer at all."
    if called.taken:
        if called.trouble:
            return f"Taken. {called.trouble[:1].upper()}{called.trouble[1:]}."
        return f"Taken, and hung up{'' if called.both_ways else '; speech did not come through both ways'}."
    if called.code is None:
        return f"{'It rang' if called.rang else 'No word that it rang'}, and nobody took it in time; taken back."
    word = _CODES.get(str(called.code), "refused")
    return f"{'It rang, then' if called.rang else 'Answered'} {called.code}: {word}."


def call_rows(one: CalledUnit) -> tuple[tuple[str, ...], ...]:
    """Return rows below ``CALL_HEADINGS``: what came from the unit, and what the unit said of ours."""
    called, rows = one.called, []
    if called.heard is not None:
        heard = called.heard
        rows.append(
            (
                "from the unit",
                str(heard.expected_count),
                f"{heard.lost_count}",
                f"{heard.late_count}",
                f"{heard.jitter_ms:.1f} ms",
                *_rated(one.to_us),
            )
        )
    if called.told is not None:
        told = called.told
        rows.append(
            (
                "to the unit, as it reports",
                str(told.expected_count),
                str(told.lost_count) if told.expected_count else NOTHING,
                NOTHING,
                f"{told.jitter_ms:.1f} ms" if told.expected_count else NOTHING,
                *_rated(one.to_them),
            )
        )
    return tuple(rows)


def call_notes(one: CalledUnit) -> tuple[str, ...]:
    """Return what is to be said beside the figures: what was not heard, and what the ratings assume."""
    called = one.called
    if called.rang and called.code is None:
        return (_MUTED,)
    if not called.taken or called.trouble:
        return ()
    notes = [] if called.heard is not None or called.strange else ["Nothing came from the unit."]
    if called.strange:
        types = " and ".join(map(str, called.strange))
        notes.append(f"What it sent has payload type {types}, which was not agreed: whoever it talks to hears nothing.")
    if called.told is not None and not called.told.expected_count:
        notes.append("The unit reports, and of nothing that came from us: our speech does not get there.")
    if called.told is None:
        notes.append("The unit reported nothing of what we sent: whether it is heard there, ask whoever took the call.")
    if called.round_trip_ms is not None:
        notes.append(f"Round trip {called.round_trip_ms:.1f} ms.")
    rated = one.to_us or one.to_them
    if rated is not None:
        notes.append(f"Ratings (ITU-T G.107) take it that {'; '.join(rated.assumed)}.")
    elif called.codec is not None and called.heard is not None:
        notes.append(f"Not rated: the narrowband model has no figures for {called.codec}.")
    return tuple(notes)


def _rated(speech: MeasuredSpeech | None) -> tuple[str, str, str]:
    if speech is None:
        return NOTHING, NOTHING, NOTHING
    return f"{speech.delay_ms:.0f} ms", f"{speech.rating_points:.1f}", f"{speech.opinion_points:.1f}"
