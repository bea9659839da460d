"""What each field of a profile means, for whoever writes one: one list for the reference and the help pages."""

from types import MappingProxyType
from typing import Final

MEANING_BY_FIELD: Final = MappingProxyType(
    {
        "key": "not written: it is the name in brackets",
        "title": "what the type is, in words",
        "kind": "`VCU`, `URU`, `SMU`, `key module`, `lock module`, `switch` or `supply`",
        "poe_class": "PoE class of a fed unit, 0 to 8 (IEEE 802.3)",
        "poe_draw_w": "most that the unit takes at its own socket; without it the limit of its class is taken",
        "poe_budget_w": "what a switch can give to all its ports together",
        "poe_port_w": "most that one port of a switch gives",
        "poe_by_lldp": (
            "of a unit: `true` where it asks for its draw by LLDP; of a switch: `true` where it sets aside what "
            "was asked, and not what the class may take"
        ),
        "poe_efficiency_ratio": (
            "what a switch gives by PoE of what it takes for it; without it the site's assumption is taken"
        ),
        "own_draw_w": (
            "what a switch takes for itself, feeding nothing; then what its ports give is added, over the efficiency"
        ),
        "dc_draw_w": (
            "most that a unit or switch takes where a supply feeds it; for a switch without `own_draw_w`, with "
            "all that it feeds"
        ),
        "dc_minimum_v": "least voltage at which it then works",
        "output_v": "output voltage of a supply",
        "output_a": "output current of a supply",
        "output_fuse_a": "fuse of each output",
        "battery_end_v": "output voltage at the end of standby, when the battery is cut off",
        "peukert_exponent": (
            "how much faster than its current the battery empties: 1 is ideal, 1.1 to 1.3 usual of sealed lead "
            "batteries (common practice)"
        ),
        "ports_count": "all ports of a switch, the uplinks among them",
        "uplinks_count": "how many of the ports are uplinks: the last ones",
        "port_mbps": "rate of a unit's own port, or of a switch's ports",
        "uplink_mbps": "rate of the uplinks",
        "uplinks_optical": "`true` where the uplinks take optical fibre",
        "keys_count": "keys built into a VCU, or keys of a key module",
        "modules_max_count": "how many modules a VCU takes",
        "module": "key of the profile of those modules",
        "keypad": "`true` where visitors dial digits",
        "keypad_digits_max_count": "how many digits it takes at most",
        "keypad_dials_at_once": "`true` where it has no end key and calls as soon as the digits are a number",
        "directory_max_count": "entries of its directory",
        "legend_width_mm": "room for the legend beside one key",
        "legend_height_mm": "height of that room",
        "outputs_count": "outputs that free doors",
        "output_contact_a": "current that such a contact may switch",
        "output_contact_v": "voltage that it may switch",
        "output_contact_inrush_a": "current that it may switch on for a moment",
        "audio": "codecs, by their names in RFC 3551: `PCMU`, `PCMA`, `G722`",
        "video": "codecs: `H264`",
        "video_kbps": "bit rate that a unit is set to send; left out where it sends no picture",
        "conceals_loss": "`true` where a receiver fills in speech that was lost on the way",
        "audio_delay_ms": "its own delay, sending or receiving",
        "jitter_buffer_ms": (
            "what it holds back to even out the arrival of packets; without it the site's setting is taken"
        ),
        "calls_max_count": "how many calls it holds at once: its own, and those of what registers with it",
        "registrations_max_count": "how many units may register with it",
        "secondaries_max_count": "how many secondaries a primary of this type may have",
        "settle_s": "how long a freshly paired unit takes to show as on line",
        "restart_s": "how long a restart takes",
        "serial_pattern": "regular expression that a whole serial number matches",
        "device_secret": (
            "policy of the password of its own settings: `length_min_count`, `length_max_count`, `alphabet`"
        ),
        "sip_secret": "policy of the password of its SIP registration, in the same form",
        "firmware": (
            "versions, the oldest first: `version`, `keeps_settings` (of the step to it), `pairing_generation`, "
            "`needs_restart` (yes unless you say otherwise), `step_s` (seconds that the step takes, 600 unless "
            "you say otherwise), `tool_note` (what the maker's own program must be), `may_go_back` (`true` where "
            "a unit that has it takes an older version again, `false` where it never does; left out where the "
            "maker does not say)"
        ),
        "firmware_baseline": "the version that units are to have on this job; one of the above",
    }
)
"""In the order of ``Profile``; code stands between backticks. Units stand in the names."""
