"""No verdict repeats a secret, however bad the secret is."""

from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.model.profile import ALPHABETS
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import AREAS, rules_of
from doorwright.rules.judge import judge
from doorwright.rules.rule import Facts
from doorwright.rules.sound import sound_secrets, sound_site

SITE = sound_site()
IDENTS = sorted(mark.id for mark in SITE.secrets)
(SECRET_RULES,) = [rules_of(area) for area in AREAS if area.__name__.endswith(".secrets")]

# long enough, or odd enough, that no message has them of itself
secrets = st.text(alphabet=ALPHABETS["letters, digits and signs"], min_size=8, max_size=40)


@settings(max_examples=60)
@given(planted=st.dictionaries(st.sampled_from(IDENTS), secrets, min_size=1), with_serial=st.booleans())
def test_no_message_repeats_a_secret(planted: dict[str, str], with_serial: bool) -> None:
    if with_serial:
        planted = {
            ident: f"{secret}{unit.serial}" for (ident, secret), unit in zip(planted.items(), SITE.units, strict=False)
        }
    opened = {**sound_secrets(), **planted}
    whole = judge(Facts(Walk(SITE), opened, date(2031, 5, 6)), SECRET_RULES)
    texts = [finding.message for finding in whole.findings] + [str(verdict) for verdict in whole.not_checked]
    assert not [text for text in texts for secret in opened.values() if secret in text]


def test_bad_secrets_are_found_without_being_told() -> None:
    unit = SITE.units[0]
    bad = f"{unit.serial}Z"
    opened = {**sound_secrets(), IDENTS[0]: bad, f"secret-{unit.id}-sip": bad, f"secret-{unit.id}-device": bad}
    whole = judge(Facts(Walk(SITE), opened, date(2031, 5, 6)), SECRET_RULES)
    assert {finding.rule for finding in whole.findings} >= {
        "secret-guessable",
        "secret-used-twice",
        "secret-not-accepted",
    }
    assert not [finding for finding in whole.findings if bad in finding.message]
