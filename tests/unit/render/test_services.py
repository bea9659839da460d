"""What the files for servers say, and what no name in them can make them say."""

import hashlib
import json
import re
from dataclasses import replace
from datetime import date

import pytest

from doorwright.model.calling import Divert, DivertCause
from doorwright.model.network import SipServer, Subnet
from doorwright.model.walk import Walk
from doorwright.render.services import (
    Served,
    dnsmasq_files,
    kamailio_files,
    kea_files,
    ntp_files,
    zone_files,
)
from doorwright.render.services.accounts import hash_of
from doorwright.render.services.hosts import mac_of
from doorwright.render.services.spelling import NOTE_MOST_COUNT, host_label, is_host_name, is_number, is_realm, note
from tests.interop.served_site import HOSTILE, REALM, ServedSite, served_site


def everything(site: ServedSite) -> dict[str, Served]:
    """Return the files of all kinds."""
    walk = site.walk
    return {
        "kamailio": kamailio_files(walk, HOSTILE, digest="MD5", secrets=site.secrets),
        "kea": kea_files(walk, HOSTILE),
        "dnsmasq": dnsmasq_files(walk, HOSTILE),
        "zone": zone_files(walk, HOSTILE, 7),
        "ntp": ntp_files(walk, HOSTILE),
    }


def text_of(served: Served, ending: str) -> str:
    """Return the one file whose name ends so."""
    (file,) = (file for file in served.files if file.name.endswith(ending))
    return file.text


# names


def test_a_name_says_nothing_outside_a_note() -> None:
    harmless = host_label(HOSTILE, "").replace("-", " ")  # makes the same host names
    plain, hostile = everything(served_site(name=harmless)), everything(served_site())
    for kind in ("kamailio", "dnsmasq", "zone", "ntp"):
        for one, other in zip(plain[kind].files, hostile[kind].files, strict=True):
            lines, others = (
                [line for line in file.text.split("\n") if not line.lstrip().startswith(("# ", "; "))]
                for file in (one, other)
            )
            assert lines == others, kind
    read, others = (
        json.loads(text_of(each["kea"], ".conf"), object_hook=_without_names)["Dhcp4"] for each in (plain, hostile)
    )
    assert read == others


def _without_names(read: dict[str, object]) -> dict[str, object]:
    return {key: value for key, value in read.items() if key != "user-context"}


@pytest.mark.parametrize("space", ["\n", "\r", "\u2028", "\x85", "\x0b", "\x00", "\\"])
def test_a_note_is_one_line(space: str) -> None:
    assert note(f"a{space}b") == "a b"


def test_a_note_is_cut_where_it_is_long() -> None:
    assert len(note("x" * 1000)) == NOTE_MOST_COUNT


@pytest.mark.parametrize(
    ("name", "label"),
    [
        ("Front panel", "front-panel"),
        ("Tür 2 / Süd", "tur-2-sud"),
        ("-x-", "x"),
        ("門", "unit"),
        ("x" * 80, "x" * 48),
        ("..", "unit"),
    ],
)
def test_host_labels_are_of_letters_digits_and_hyphens(name: str, label: str) -> None:
    assert host_label(name, "unit") == label  # RFC 1123 §2.1


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("sip.larkfield.example", True),
        ("doors", False),
        ("192.0.2.1", False),
        ("a..example", False),
        ("-a.example", False),
        (f"{'a' * 64}.example", False),  # RFC 1035 §2.3.4: 63 at most
        ("a.example\n", False),
        ("../etc/passwd.example", False),
    ],
)
def test_host_names(text: str, is_one: bool) -> None:
    assert is_host_name(text) is is_one


@pytest.mark.parametrize("text", ['10"1', "10\n1", "1 0", "#1", "1;q", "$si", "", "@@REALM@@", "x" * 33])
def test_numbers_and_realms_that_could_say_more_are_none(text: str) -> None:
    assert not is_number(text)
    assert is_realm(text) is (text in {"1 0", "x" * 33})


# the SIP server


@pytest.mark.parametrize(
    ("digest", "response"),
    [
        ("MD5", "8ca523f5e9506fed4657c9700eebdbec"),
        ("SHA-256", "753927fa0e85d155564e2e272a28d1802ca10daf4496794697cf8db5856cb6c1"),
    ],
)
def test_hashes_make_the_response_of_the_standard(digest: str, response: str) -> None:
    # RFC 7616 §3.9.1: the example's response, by the formula of §3.4.1 from the hash that we hand out
    def h(text: str) -> str:
        return hashlib.new({"MD5": "md5", "SHA-256": "sha256"}[digest], text.encode()).hexdigest()

    made = hash_of("Mufasa", "http-auth@example.org", "Circle of Life", digest)
    nonce = "7ypf/xlj9XXwfDPEoM4URrv/xwf94BcCAzFZH4GiTo0v"
    cnonce = "f2/wE4q74E6zIJEtWaHKaf5wv/H5QzzpXusqGemxURZJ"
    assert h(f"{made}:{nonce}:00000001:{cnonce}:auth:{h('GET:/dir/index.html')}") == response


def test_the_hashes_stand_in_a_private_file_and_only_where_secrets_are_given() -> None:
    site = served_site()
    without = kamailio_files(site.walk, "t", digest="MD5")
    assert [file.name.rpartition("/")[2] for file in without.files] == ["kamailio.cfg"]
    assert 'include_file "kamailio-secrets.cfg"' in without.files[0].text
    given = kamailio_files(site.walk, "t", digest="MD5", secrets=site.secrets)
    assert [file.private for file in given.files] == [False, True]
    assert given.files[0] == without.files[0]
    assert given.hashes_count == len(site.site.units)
    assert re.findall(r"hash=>1001::(\d)", given.files[1].text) == ["1", "2", "3"]
    for secret in site.secrets.values():
        assert not any(secret in file.text for file in given.files)
    assert given.files[1].text not in repr(given)


def test_the_tables_say_who_rings_how_long_and_in_which_order() -> None:
    text = text_of(kamailio_files(served_site().walk, "t", digest="MD5"), "kamailio.cfg")
    assert "$sht(ring_ms=>1001) = 30000;" in text  # the site's choice: 30 s
    assert "$sht(ring_ms=>1002) = 1000;" in text
    # 11 the panel, 12 the desk, 13 to 15 in 1001: so 1002 has 16 and 17
    assert re.findall(r'turn=>(\S+)\) = "(\S+)"', text) == [("1002::1", "192.0.2.16"), ("1002::2", "192.0.2.17")]
    assert re.findall(r"dwelling=>(\d+)\) = 1;", text) == ["1001", "1002", "1003", "1004", "1005", "1006", "1007"]
    assert re.findall(r"entrance=>(\S+)\) = (\d)", text) == [("7000", "1")]


def test_receivers_without_an_address_ring_together_and_that_is_told() -> None:
    site = served_site().site
    units = tuple(replace(unit, address=None) if unit.name == "1002 1" else unit for unit in site.units)
    made = kamailio_files(Walk(replace(site, units=units)), "t", digest="MD5")
    assert "turn=>1002" not in text_of(made, ".cfg")  # a receiver that is in no turn would never ring
    assert any(remark.startswith("1002 rings together") for remark in made.remarks)


def test_the_most_particular_divert_stands_first() -> None:
    site = served_site().site
    general = Divert(id="0", cause=DivertCause.BUSY, to_dwelling="d1003")
    walk = Walk(replace(site, diverts=(general, *site.diverts)))
    text = text_of(kamailio_files(walk, "t", digest="MD5"), "kamailio.cfg")
    busy = text[text.index("route[SENT_ON_BUSY]") : text.index("route[SENT_ON_NOT_REGISTERED]")]
    conditions = re.findall(r"if \((.*?)\) \{", busy)
    assert conditions == [
        '$avp(called) == "1001"',
        '$sht(dwelling=>$avp(called)) == 1 && $avp(called) != "1003"',  # a divert passes over what it leads to
    ]


def test_holidays_stand_in_the_tables() -> None:
    walk = served_site(holidays=(date(2026, 12, 25),)).walk
    assert "$sht(holiday=>2026-12-25) = 1;" in text_of(kamailio_files(walk, "t", digest="MD5"), ".cfg")


def test_what_the_sip_server_cannot_be_told_is_remarked() -> None:
    site = served_site(name="plain").site
    numbers = {"v": None, "k": "#9", "u10030": "1001"}
    units = tuple(replace(unit, call_number=numbers.get(unit.id, unit.call_number)) for unit in site.units)
    made = kamailio_files(Walk(replace(site, units=units)), "t", digest="MD5")
    told = "\n".join(made.remarks)
    assert "No SIP user for VCU Main panel (plain): it has no call number" in told
    assert "'#9' has other signs" in told
    assert "No SIP user 1001: several parts have this call number" in told
    assert "busy: calls to 1001: to #9: what is called does not register here" in told
    text = text_of(made, ".cfg")
    assert "1001)" not in text
    assert all(f"# {note(remark)}" in text for remark in made.remarks)


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"address": None}, "it has no address"),
        ({"realm": None}, "it has no realm"),
        ({"realm": 'x"; exit; "'}, "its realm has other signs"),
        ({"port": 0}, "its port is none"),
    ],
)
def test_a_server_that_cannot_be_written_is_told(fields: dict[str, str], why: str) -> None:
    site = served_site().site
    made = kamailio_files(Walk(replace(site, servers=(replace(site.servers[0], **fields),))), "t", digest="MD5")  # type: ignore[arg-type]
    assert made.files == ()
    assert why in made.remarks[0]


def test_servers_of_one_name_have_folders_of_their_own() -> None:
    site = served_site(name="../../etc").site
    servers = (site.servers[0], replace(site.servers[0], id="s2", address="192.0.2.2"))
    made = kamailio_files(Walk(replace(site, servers=servers)), "t", digest="MD5")
    assert [file.name for file in made.files] == ["sip-etc/kamailio.cfg", "sip-etc-2/kamailio.cfg"]


# DHCP


def test_each_mac_address_has_its_planned_address_in_both_dhcp_files() -> None:
    site = served_site()
    planned = {(str(one.mac).replace("-", ":").lower(), one.address) for one in site.site.units}
    planned |= {(str(one.mac).replace("-", ":").lower(), one.address) for one in site.site.switches}
    read = json.loads(text_of(kea_files(site.walk, "t"), ".conf"))["Dhcp4"]["subnet4"]
    assert {(one["hw-address"], one["ip-address"]) for one in read[0]["reservations"]} == planned
    assert (read[0]["subnet"], "pools" in read[0]) == ("192.0.2.0/24", False)
    assert {one["name"]: one["data"] for one in read[0]["option-data"]} == {
        "routers": "192.0.2.254",
        "ntp-servers": "192.0.2.1",
    }
    lines = text_of(dnsmasq_files(site.walk, "t"), ".conf").splitlines()
    hosts = [line.removeprefix("dhcp-host=").split(",") for line in lines if line.startswith("dhcp-host=")]
    assert {(mac, address) for mac, address, _ in hosts} == planned
    assert len({host for _, _, host in hosts}) == len(hosts)
    assert "dhcp-ignore=tag:!known" in lines


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"mac": None}, "have no MAC address yet"),
        ({"mac": "01-00-5E-00-53-01"}, "have a MAC address that cannot be one"),  # RFC 7042 §2.1: a group's
        ({"mac": "00-00-5E-00-53-0C"}, "share a MAC address"),  # the desk's
        ({"address": "192.0.2.12"}, "share an address"),  # the desk's
        ({"address": "192.0.2.1"}, "share an address"),  # the server's
        ({"address": "198.51.100.7"}, "have an address outside theirs"),
        ({"address": None}, "have no address yet"),
        ({"subnet": None}, "have no subnet that can be served"),
    ],
)
def test_who_gets_no_dhcp_is_told_with_the_reason(fields: dict[str, str | None], why: str) -> None:
    site = served_site().site
    units = (replace(site.units[0], **fields), *site.units[1:])  # type: ignore[arg-type]
    made = dnsmasq_files(Walk(replace(site, units=units)), "t")
    assert any(why in remark and "Main panel" in remark for remark in made.remarks)
    hosts = [line for line in text_of(made, ".conf").splitlines() if line.startswith("dhcp-host=")]
    assert not any(line.endswith(",main-panel") for line in hosts)


def test_subnets_that_overlap_or_cannot_be_read_are_told() -> None:
    site = served_site().site
    more = (Subnet(id="o", name="Over", cidr="192.0.2.128/25"), Subnet(id="q", name="Queer", cidr="192.0.2/x"))
    plain = replace(site.subnets[0], name="First")
    made = kea_files(Walk(replace(site, subnets=(plain, *more))), "t")
    assert "No DHCP for subnets that overlap another subnet: Over" in made.remarks
    assert "No DHCP for subnets that have no range that can be read: Queer" in made.remarks


@pytest.mark.parametrize(
    ("text", "mac"),
    [
        ("00-00-5E-00-53-0C", "00:00:5e:00:53:0c"),
        ("0000.5e00.530c", "00:00:5e:00:53:0c"),
        ("00-00-00-00-00-00", None),
        ("00-00-5E-00-53", None),
        ("", None),
    ],
)
def test_mac_addresses_are_read_in_any_spelling(text: str, mac: str | None) -> None:
    assert mac_of(text) == mac


# names and the time


def test_the_zone_leads_from_the_realm_to_the_server() -> None:
    served = zone_files(served_site(name="Server one", port=5070).walk, "t", 7)
    (file,) = served.files
    assert file.name == f"{REALM}.zone"
    records = [line.split(" ", 3) for line in file.text.splitlines() if " IN " in line]
    # RFC 3263 §4.1: NAPTR to SRV with flag s; RFC 2782: priority, weight, port, target
    assert ["@", "IN", "NAPTR", '10 50 "s" "SIP+D2U" "" _sip._udp'] in records
    assert ["@", "IN", "NAPTR", '20 50 "s" "SIP+D2T" "" _sip._tcp'] in records
    assert ["_sip._udp", "IN", "SRV", "10 0 5070 server-one"] in records
    assert ["_sip._tcp", "IN", "SRV", "10 0 5070 server-one"] in records
    assert ["server-one", "IN", "A", "192.0.2.1"] in records


def test_two_servers_of_one_realm_share_a_zone_and_are_told() -> None:
    site = served_site(name="one").site
    second = SipServer(id="s2", name="ns", address="192.0.2.2", realm=REALM)
    served = zone_files(Walk(replace(site, servers=(*site.servers, second))), "t", 7)
    (file,) = served.files
    assert "_sip._udp IN SRV 20 0 5060 one" in file.text
    assert "ns-2 IN A 192.0.2.2" in file.text  # the name server has its own name
    assert "2 servers" in served.remarks[0]


def test_a_realm_that_is_no_host_name_has_no_zone() -> None:
    site = served_site().site
    served = zone_files(Walk(replace(site, servers=(replace(site.servers[0], realm="the doors"),))), "t", 7)
    assert served.files == ()
    assert "its realm is no host name" in served.remarks[0]


def test_the_time_is_for_the_site_alone() -> None:
    text = text_of(ntp_files(served_site().walk, "t"), "chrony.conf")
    assert [line for line in text.splitlines() if line.startswith("allow")] == ["allow 192.0.2.0/24"]


def test_the_same_site_gives_the_same_files() -> None:
    site = served_site()
    turned = replace(
        site.site,
        units=site.site.units[::-1],
        diverts=site.site.diverts[::-1],
        dwellings=site.site.dwellings[::-1],
        secrets=site.site.secrets[::-1],
    )
    assert everything(site) == everything(ServedSite(turned, site.secrets))
