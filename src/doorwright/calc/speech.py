"""How speech over the network sounds: the narrowband E-model of ITU-T G.107, its codec factors, and delay.

The rating holds for narrowband speech alone (300-3400 Hz). Wideband codecs such as G.722 have no place on its scale:
ITU-T G.107.1 rates those, and is not computed here.
"""

from dataclasses import dataclass, field
from functools import cache
from math import exp, log10, sqrt
from typing import Final

from doorwright import data
from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

TRANSPARENT_MS: Final = 150.0
"""One-way delay below which a conversation is essentially as without delay (ITU-T G.114)."""
CEILING_MS: Final = 400.0
"""One-way delay that network planning is not to exceed (ITU-T G.114)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechCodec:
    """What a codec does to speech: its impairment without loss and its robustness to loss (ITU-T G.113 Appendix I).

    A codec without figures is a wideband one that the narrowband model does not rate.
    """

    key: str
    title: str
    impairment_points: float | None
    robustness_percent: float | None
    source: str
    place: str


@cache
def speech_codec(key: str) -> SpeechCodec:
    """Return the factors of a codec by its key in ``data/codecs.toml``.

    Raises:
        LookupError: there is no such codec.
    """
    row = data.table("codecs")["speech"].get(key)
    if row is None:
        raise LookupError(f"no factors for the codec {key!r}")
    return SpeechCodec(key=key, **{"impairment_points": None, "robustness_percent": None} | row)


@dataclass(frozen=True, slots=True, kw_only=True)
class Connection:
    """The quantities of a connection that the E-model takes, at the default values of ITU-T G.107 Table 2.

    Loudness ratings, losses and noises as G.107 names them: SLR, RLR, STMR, D_s, D_r, TELR, WEPL, qdu, N_c, N_for,
    P_s, P_r. LSTR is STMR + D_r.
    """

    sending_db: float = 8.0
    receiving_db: float = 2.0
    sidetone_db: float = 15.0
    sending_d_db: float = 3.0
    receiving_d_db: float = 3.0
    talker_echo_db: float = 65.0
    echo_path_db: float = 110.0
    distortion_units_count: float = 1.0
    circuit_noise_dbm: float = -70.0
    receiver_noise_dbm: float = -64.0
    sender_room_dba: float = 35.0
    receiver_room_dba: float = 35.0


DEFAULT: Final = Connection()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechRating:
    """The transmission rating and the impairments that it consists of, in points of the rating.

    R = signal-to-noise - simultaneous - talker echo - listener echo - delay - equipment + advantage.
    """

    rating_points: float
    opinion_points: float
    signal_to_noise_points: float = field(metadata={"symbol": "Ro"})
    simultaneous_points: float = field(metadata={"symbol": "Is"})
    talker_echo_points: float = field(metadata={"symbol": "Idte"})
    listener_echo_points: float = field(metadata={"symbol": "Idle"})
    delay_points: float = field(metadata={"symbol": "Idd"})
    equipment_points: float = field(metadata={"symbol": "Ie-eff"})


@calculation("Rating of a speech connection", Cite("itu-g107", "clauses 7.1 to 7.6, equations 7-1 to 7-29"))
def speech_rating(
    *,
    delay_ms: float = 0.0,
    impairment_points: float = 0.0,
    robustness_percent: float = 4.3,
    loss_percent: float = 0.0,
    burst_ratio: float = 1.0,
    advantage_points: float = 0.0,
    connection: Connection = DEFAULT,
) -> SpeechRating:
    """Return the transmission rating factor R of the E-model and the mean opinion score that belongs to it.

    Formula: R = Ro - Is - Id - Ie,eff + A. The echo path is as long as the connection: T = Ta = Tr/2.

    Valid when: narrowband speech, handsets or units that control echo as well. An aid to planning: it does not predict
    what a certain listener says, and knows nothing of a street's noise beyond ``sender_room_dba``.

    Args:
        delay_ms: one-way delay from mouth to ear, milliseconds.
        impairment_points: equipment impairment factor of the codec without loss, Ie.
        robustness_percent: packet-loss robustness factor of the codec, Bpl; 4.3 belongs to G.711 without concealment.
        loss_percent: packets lost, per cent.
        burst_ratio: mean length of bursts of loss over that under random loss; 1 is random.
        advantage_points: advantage factor A; 0 for door entry.
        connection: loudness, noise and echo of the connection.

    Returns:
        The rating and its parts.
    """
    noise_dbm = _noise_dbm(connection)
    signal = 15.0 - 1.5 * (connection.sending_db + noise_dbm)
    steady = _sidetone_points(connection, delay_ms)
    simultaneous = _loudness_points(connection, noise_dbm) + steady + _quantising_points(connection, signal)
    talker = _talker_echo_points(connection, noise_dbm, delay_ms, steady)
    listener = _listener_echo_points(connection, signal, 2.0 * delay_ms)
    late = delay_impairment_points(delay_ms=delay_ms)
    equipment = equipment_impairment_points(
        impairment_points=impairment_points,
        robustness_percent=robustness_percent,
        loss_percent=loss_percent,
        burst_ratio=burst_ratio,
    )
    rating = signal - simultaneous - talker - listener - late - equipment + advantage_points
    return SpeechRating(
        rating_points=rating,
        opinion_points=opinion_points(rating_points=rating),
        signal_to_noise_points=signal,
        simultaneous_points=simultaneous,
        talker_echo_points=talker,
        listener_echo_points=listener,
        delay_points=late,
        equipment_points=equipment,
    )


@calculation("Impairment by delay", Cite("itu-g107", "equations 7-25 to 7-27, default delay sensitivity"))
def delay_impairment_points(*, delay_ms: float) -> float:
    """Return the impairment by a long delay that has no echo in it, Idd.

    Formula: 0 up to 100 ms; else 25·((1 + X⁶)^(1/6) - 3·(1 + (X/3)⁶)^(1/6) + 2) with X = log₂(Ta/100 ms).

    Valid when: a conversation with the default sensitivity to delay (sT = 1, mT = 100 ms).

    Args:
        delay_ms: absolute one-way delay Ta, milliseconds.

    Returns:
        Points of the rating.
    """
    if delay_ms <= 100.0:
        return 0.0
    x: float = log10(delay_ms / 100.0) / log10(2.0)
    sixth = 1.0 / 6.0
    late: float = 25.0 * ((1.0 + x**6) ** sixth - 3.0 * (1.0 + (x / 3.0) ** 6) ** sixth + 2.0)
    return late


@calculation("Impairment by codec and loss", Cite("itu-g107", "equation 7-29"))
def equipment_impairment_points(
    *, impairment_points: float, robustness_percent: float, loss_percent: float, burst_ratio: float = 1.0
) -> float:
    """Return the effective equipment impairment factor Ie,eff.

    Formula: Ie,eff = Ie + (95 - Ie)·Ppl/(Ppl/BurstR + Bpl).

    Valid when: both factors belong to the codec as it is used, with or without concealment of loss.

    Args:
        impairment_points: equipment impairment factor Ie without loss.
        robustness_percent: packet-loss robustness factor Bpl.
        loss_percent: packets lost, per cent.
        burst_ratio: mean length of bursts of loss over that under random loss.

    Returns:
        Points of the rating.
    """
    lost = loss_percent / (loss_percent / burst_ratio + robustness_percent)
    return impairment_points + (95.0 - impairment_points) * lost


@calculation("Mean opinion score of a rating", Cite("itu-g107", "Annex B, equation B-4"))
def opinion_points(*, rating_points: float) -> float:
    """Return the mean opinion score that belongs to a rating.

    Formula: 1 + 0.035·R + R·(R - 60)·(100 - R)·7e-6; 1 below R = 0, 4.5 above R = 100.

    Valid when: narrowband. Between R = 0 and 6.5 the formula falls below 1: the score is held at 1 there.

    Args:
        rating_points: transmission rating factor R.

    Returns:
        Score from 1 (bad) to 4.5.
    """
    if rating_points <= 0.0:
        return 1.0
    if rating_points >= 100.0:
        return 4.5
    cubic = rating_points * (rating_points - 60.0) * (100.0 - rating_points) * 7e-6
    return max(1.0, 1.0 + 0.035 * rating_points + cubic)


@calculation("Rating in short form", Cite("cole-rosenbluth", "reduced E-model for packet telephony"))
def short_rating_points(*, delay_ms: float, equipment_points: float = 0.0) -> float:
    """Return the rating by the reduced E-model: a check of the whole one by simpler means.

    Formula: R = 93.2 - (0.024·d + 0.11·(d - 177.3) beyond 177.3 ms) - Ie,eff.

    Valid when: all else is at the default values of ITU-T G.107; delay below about 400 ms.

    Args:
        delay_ms: one-way delay from mouth to ear, milliseconds.
        equipment_points: effective equipment impairment factor.

    Returns:
        Points of the rating.
    """
    return 93.2 - 0.024 * delay_ms - 0.11 * max(0.0, delay_ms - 177.3) - equipment_points


@dataclass(frozen=True, slots=True, kw_only=True)
class DelayBudget:
    """Where the time from mouth to ear goes. All in milliseconds."""

    sender_ms: float
    packet_ms: float
    links_ms: float
    jitter_buffer_ms: float
    receiver_ms: float
    total_ms: float


@calculation(
    "Delay from mouth to ear", Cite("itu-g114", "delay of the parts of a connection adds up"), Cite("practice")
)
def delay_budget(
    *,
    sender_ms: float,
    packet_ms: float,
    hop_count: int,
    hop_delay_ms: float,
    jitter_buffer_ms: float,
    receiver_ms: float,
) -> DelayBudget:
    """Return the one-way delay of a call and its parts.

    Formula: sender + packet + hops·delay of one + jitter buffer + receiver.

    Valid when: links are not overloaded; a jitter buffer holds back as much as it is set to.

    Args:
        sender_ms: time in the sending unit beside filling the packet, milliseconds.
        packet_ms: speech in one packet, milliseconds: it leaves only when it is full.
        hop_count: links that the packet crosses.
        hop_delay_ms: time over one link and the switch before it, milliseconds.
        jitter_buffer_ms: what the receiver holds back, milliseconds.
        receiver_ms: time in the receiving unit, milliseconds.

    Returns:
        The parts and their sum.
    """
    links_ms = hop_count * hop_delay_ms
    return DelayBudget(
        sender_ms=sender_ms,
        packet_ms=packet_ms,
        links_ms=links_ms,
        jitter_buffer_ms=jitter_buffer_ms,
        receiver_ms=receiver_ms,
        total_ms=sender_ms + packet_ms + links_ms + jitter_buffer_ms + receiver_ms,
    )


# The parts of ITU-T G.107; every equation by its number.


def _noise_dbm(c: Connection) -> float:
    """Return the sum of all noise at the 0 dBr point, No (equations 7-3 to 7-7)."""
    overall_db = c.sending_db + c.receiving_db
    sender = c.sender_room_dba - c.sending_db - c.sending_d_db - 100.0
    sender += 0.004 * (c.sender_room_dba - overall_db - c.sending_d_db - 14.0) ** 2
    listener_sidetone_db = c.sidetone_db + c.receiving_d_db
    effective_dba = c.receiver_room_dba + 10.0 * log10(1.0 + 10.0 ** ((10.0 - listener_sidetone_db) / 10.0))
    receiver = c.receiving_db - 121.0 + effective_dba + 0.008 * (effective_dba - 35.0) ** 2
    floor = c.receiver_noise_dbm + c.receiving_db
    return 10.0 * log10(sum(10.0 ** (level / 10.0) for level in (c.circuit_noise_dbm, sender, receiver, floor)))


def _loudness_points(c: Connection, noise_dbm: float) -> float:
    """Return the impairment by too low an overall loudness rating, Iolr (equations 7-9, 7-10)."""
    x: float = (c.sending_db + c.receiving_db + 0.2 * (64.0 + noise_dbm - c.receiving_db)) / 8.0
    points: float = 20.0 * ((1.0 + x**8) ** 0.125 - x)
    return points


def _sidetone_points(c: Connection, delay_ms: float) -> float:
    """Return the impairment by unfit sidetone, Ist (equations 7-11, 7-12)."""
    echoed = exp(-delay_ms / 4.0) * 10.0 ** (-c.talker_echo_db / 10.0)
    sidetone_db = -10.0 * log10(10.0 ** (-c.sidetone_db / 10.0) + echoed)
    points: float = (
        12.0 * (1.0 + ((sidetone_db - 13.0) / 6.0) ** 8) ** (1.0 / 8.0)
        - 28.0 * (1.0 + ((sidetone_db + 1.0) / 19.4) ** 35) ** (1.0 / 35.0)
        - 13.0 * (1.0 + ((sidetone_db - 3.0) / 33.0) ** 13) ** (1.0 / 13.0)
        + 29.0
    )
    return points


def _quantising_points(c: Connection, signal_points: float) -> float:
    """Return the impairment by quantising distortion, Iq (equations 7-13 to 7-17)."""
    q = 37.0 - 15.0 * log10(c.distortion_units_count)
    g = 1.07 + 0.258 * q + 0.0602 * q * q
    y = (signal_points - 100.0) / 15.0 + 46.0 / 8.4 - g / 9.0
    z = 46.0 / 30.0 - g / 40.0
    return 15.0 * log10(1.0 + 10.0**y + 10.0**z)


def _talker_echo_points(c: Connection, noise_dbm: float, delay_ms: float, sidetone_points: float) -> float:
    """Return the impairment by talker echo, Idte (equations 7-19 to 7-23), corrected for extreme sidetone."""
    if delay_ms < 1.0:
        return 0.0
    echo_db = c.talker_echo_db - 40.0 * log10((1.0 + delay_ms / 10.0) / (1.0 + delay_ms / 150.0))
    echo_db += 6.0 * exp(-0.3 * delay_ms * delay_ms)
    if c.sidetone_db < 9.0:
        echo_db += sidetone_points / 2.0
    half = (-1.5 * (noise_dbm - c.receiving_db) - (80.0 + 2.5 * (echo_db - 14.0))) / 2.0
    points = (half + sqrt(half * half + 100.0) - 1.0) * (1.0 - exp(-delay_ms))
    return sqrt(points * points + sidetone_points * sidetone_points) if c.sidetone_db > 20.0 else points


def _listener_echo_points(c: Connection, signal_points: float, round_trip_ms: float) -> float:
    """Return the impairment by listener echo, Idle (equations 7-24, 7-25)."""
    echo: float = 10.5 * (c.echo_path_db + 7.0) * (round_trip_ms + 1.0) ** -0.25
    half = (signal_points - echo) / 2.0
    return half + sqrt(half * half + 169.0)
