"""The settings that say what the calculations take for granted: the habits of visitors, and what the network does."""

from typing import Final

from doorwright.model.habits import USUAL_HABITS
from doorwright.model.media import USUAL_MEDIA
from doorwright.store.workbook import values
from doorwright.store.workbook.columns.column import Setting
from doorwright.store.workbook.values import PART_OF_ONE, number
from doorwright.store.workbook.weights import HOUR_WEIGHTS

HABIT_SETTINGS: Final[tuple[Setting, ...]] = (
    Setting(
        field="habits.calls_per_dwelling_count", heading="Calls a day of a dwelling", form=number(),
        note="How many calls a dwelling gets on a day. This and the lines below are assumptions: give your own counts.",
        example=USUAL_HABITS.calls_per_dwelling_count,
        synonyms=("calls per dwelling", "calls per flat", "calls a day", "calls per day", "visitors per flat"),
    ),
    Setting(
        field="habits.hour_weights", heading="Hours of the day", form=HOUR_WEIGHTS,
        note="How the calls spread over the day: 24 numbers from midnight on, of which only the proportions count.",
        example=HOUR_WEIGHTS.show(USUAL_HABITS.hour_weights),
        synonyms=("hour weights", "calls by hour", "hourly weights", "daily profile", "weights of the hours"),
    ),
    Setting(
        field="habits.answer_ratio", heading="Share answered", form=PART_OF_ONE, example=USUAL_HABITS.answer_ratio,
        note="Share of the calls that a dwelling answers, such as 0.7 or 70 %.",
        synonyms=("answered", "answer ratio", "answer rate", "calls answered"),
    ),
    Setting(
        field="habits.answer_s", heading="Time to answer (s)", form=number("s"), example=USUAL_HABITS.answer_s,
        note="How long answering takes in the mean, in seconds.",
        synonyms=("time to answer", "answer time", "answer s"),
    ),
    Setting(
        field="habits.talk_s", heading="Talking time (s)", form=number("s"), example=USUAL_HABITS.talk_s,
        note="How long people talk in the mean, in seconds.", synonyms=("talking time", "talk time", "talk s"),
    ),
    Setting(
        field="habits.retry_ratio", heading="Share that tries again", form=PART_OF_ONE,
        example=USUAL_HABITS.retry_ratio,
        note="Share of the callers without answer who call again.",
        synonyms=("tries again", "retry ratio", "retries", "calls again"),
    ),
    Setting(
        field="habits.retry_after_s", heading="Tries again after (s)", form=number("s"),
        note="After how long they do so in the mean, in seconds.", example=USUAL_HABITS.retry_after_s,
        synonyms=("tries again after", "retry after", "retry after s"),
    ),
    Setting(
        field="habits.desk_ratio", heading="Share for the desk", form=PART_OF_ONE, example=USUAL_HABITS.desk_ratio,
        note="Share of the calls that are for the desk.", synonyms=("desk share", "desk ratio", "calls for the desk"),
    ),
    Setting(
        field="habits.desk_talk_s", heading="Talking time of the desk (s)", form=number("s"),
        note="How long the desk is busy with one call in the mean, in seconds.", example=USUAL_HABITS.desk_talk_s,
        synonyms=("desk talking time", "desk talk time", "desk talk s", "talking time of the desk"),
    ),
    Setting(
        field="habits.desk_patience_s", heading="Patience at the desk (s)", form=number("s"),
        note="How long a caller waits for the desk in the mean before giving up, in seconds.",
        example=USUAL_HABITS.desk_patience_s, synonyms=("desk patience", "patience", "patience at the desk"),
    ),
    Setting(
        field="habits.busy_ratio", heading="Share that may find it taken", form=PART_OF_ONE,
        note="Share of the visitors who may find a visitor call unit taken in the busiest hour: a goal.",
        example=USUAL_HABITS.busy_ratio, synonyms=("busy ratio", "blocking", "blocking ratio", "grade of service"),
    ),
    Setting(
        field="habits.desk_wait_s", heading="Desk answers within (s)", form=number("s"),
        example=USUAL_HABITS.desk_wait_s,
        note="How soon the desk is to answer, in seconds: a goal.",
        synonyms=("desk answers within", "desk wait", "desk wait s"),
    ),
    Setting(
        field="habits.desk_within_ratio", heading="Share answered by the desk in time", form=PART_OF_ONE,
        note="Share of its callers whom the desk is to answer so soon: a goal.", example=USUAL_HABITS.desk_within_ratio,
        synonyms=("desk within ratio", "service level", "desk service level"),
    ),
)  # fmt: skip

MEDIA_SETTINGS: Final[tuple[Setting, ...]] = (
    Setting(
        field="media.packet_ms", heading="Speech in a packet (ms)", form=number("ms", least=1),
        example=USUAL_MEDIA.packet_ms,
        note="How much speech goes into one packet, in milliseconds. This and the lines below are assumptions.",
        synonyms=("packet time", "packet ms", "packetisation", "packetization time", "ptime"),
    ),
    Setting(
        field="media.tagged", heading="Tagged frames", form=values.YES_NO, example="yes",
        note="Whether frames carry a VLAN tag, which adds to their length.",
        synonyms=("tagged", "vlan tags", "vlan tagged"),
    ),
    Setting(
        field="media.video_multicast", heading="Video by multicast", form=values.YES_NO, example="no",
        note="Whether a picture goes once to all receivers that ring, and not to each of them.",
        synonyms=("multicast", "video multicast", "multicast video"),
    ),
    Setting(
        field="media.loss_ratio", heading="Packets lost", form=PART_OF_ONE, example=USUAL_MEDIA.loss_ratio,
        note="Share of the packets that the network is taken to lose, such as 0.01 or 1 %.",
        synonyms=("packet loss", "loss", "loss ratio", "lost packets"),
    ),
    Setting(
        field="media.burst_ratio", heading="Burst ratio", form=number(least=1), example=USUAL_MEDIA.burst_ratio,
        note="How much longer losses last than chance would make them (ITU-T G.107): 1 is chance.",
        synonyms=("burstiness", "bursts"),
    ),
    Setting(
        field="media.hop_delay_ms", heading="Delay of a hop (ms)", form=number("ms"), example=USUAL_MEDIA.hop_delay_ms,
        note="Delay of one switch and its link, in milliseconds.",
        synonyms=("hop delay", "delay per hop", "hop delay ms", "delay of a hop"),
    ),
    Setting(
        field="media.jitter_buffer_ms", heading="Jitter buffer (ms)", form=number("ms"),
        note="What a receiver holds back where its unit type does not say, in milliseconds.",
        example=USUAL_MEDIA.jitter_buffer_ms, synonyms=("jitter buffer", "jitter buffer ms", "playout delay"),
    ),
    Setting(
        field="media.link_use_ratio", heading="Share of a link used", form=PART_OF_ONE,
        example=USUAL_MEDIA.link_use_ratio,
        note="How full a link may be, such as 0.5 or 50 %.",
        synonyms=("link use", "link use ratio", "link utilisation", "utilisation", "utilization"),
    ),
)  # fmt: skip
