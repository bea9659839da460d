"""The files for servers, read by the programs that they are for: each program's own check of its syntax.

The names on the site are made to do harm (``served_site.HOSTILE``). The large example is read as well. Needs Debian's
packages kamailio, kea-dhcp4-server, dnsmasq-base, bind9-utils and chrony.
"""

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from doorwright.model.walk import Walk
from doorwright.render.services import dnsmasq_files, kamailio_files, kea_files, ntp_files, zone_files
from doorwright.render.services.served import Served
from tests.documents.sample_site import sample
from tests.interop.served_site import HOSTILE, REALM, served_site

PROGRAMS = {
    "kamailio": "kamailio",
    "kea-dhcp4": "kea-dhcp4-server",
    "dnsmasq": "dnsmasq-base",
    "named-checkzone": "bind9-utils",
    "chronyd": "chrony",
}
"""Programs, and Debian's packages that hold them."""


def program(name: str) -> str:
    """Return where a program is; skip where it is missing, but fail in CI."""
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if found is None:
        missing = f"{name} is not installed (Debian: apt-get install {PROGRAMS[name]})"
        if "CI" in os.environ:
            pytest.fail(missing)
        pytest.skip(missing)
    return found


def written(served: Served, folder: Path) -> list[Path]:
    """Write files flat into a folder."""
    paths = [folder / Path(file.name).name for file in served.files]
    for path, file in zip(paths, served.files, strict=True):
        path.write_text(file.text, encoding="utf-8")
    return paths


def judged(*command: object) -> subprocess.CompletedProcess[str]:
    """Run a program to its end."""
    return subprocess.run([str(one) for one in command], capture_output=True, text=True, check=False, timeout=60)


@pytest.fixture(params=["hostile names", "large"])
def walk(request: pytest.FixtureRequest) -> Walk:
    return served_site().walk if request.param == "hostile names" else Walk(sample(160, name=HOSTILE).site)


def test_kamailio_reads_its_file(tmp_path: Path) -> None:
    kamailio, site = program("kamailio"), served_site(net="127.0.0")
    path, secrets = written(kamailio_files(site.walk, HOSTILE, digest="MD5", secrets=site.secrets), tmp_path)
    ran = judged(kamailio, "-c", "-f", path)
    assert ran.returncode == 0, ran.stderr
    # with a fault of one letter the same check fails, so it does look; and without the secrets nothing starts
    path.write_text(path.read_text(encoding="utf-8").replace("route(CALL);", "route(CALL", 1), encoding="utf-8")
    assert judged(kamailio, "-c", "-f", path).returncode != 0
    written(kamailio_files(site.walk, HOSTILE, digest="MD5"), tmp_path)
    secrets.unlink()
    assert judged(kamailio, "-c", "-f", path).returncode != 0


def test_kea_reads_its_file(tmp_path: Path, walk: Walk) -> None:
    kea = program("kea-dhcp4")
    (path,) = written(kea_files(walk, HOSTILE), tmp_path)
    ran = judged(kea, "-t", path)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    read = json.loads(path.read_text(encoding="utf-8"))
    read["Dhcp4"]["subnet4"][0]["reservations"][0]["ip-address"] = "nowhere"
    path.write_text(json.dumps(read), encoding="utf-8")
    assert judged(kea, "-t", path).returncode != 0


def test_dnsmasq_reads_its_file(tmp_path: Path, walk: Walk) -> None:
    dnsmasq = program("dnsmasq")
    (path,) = written(dnsmasq_files(walk, HOSTILE), tmp_path)
    ran = judged(dnsmasq, "--test", "-C", path)
    assert ran.returncode == 0, ran.stderr
    path.write_text(f"{path.read_text(encoding='utf-8')}dhcp-range=nowhere\n", encoding="utf-8")
    assert judged(dnsmasq, "--test", "-C", path).returncode != 0


def test_the_zone_is_one(tmp_path: Path) -> None:
    checkzone = program("named-checkzone")
    (path,) = written(zone_files(served_site().walk, HOSTILE, 7), tmp_path)
    ran = judged(checkzone, REALM, path)
    assert ran.returncode == 0, ran.stdout
    assert "loaded serial 7" in ran.stdout
    path.write_text(f"{path.read_text(encoding='utf-8')}_sip._udp IN SRV 10\n", encoding="utf-8")
    assert judged(checkzone, REALM, path).returncode != 0


def test_chrony_reads_its_file(tmp_path: Path, walk: Walk) -> None:
    chronyd = program("chronyd")
    (path,) = written(ntp_files(walk, HOSTILE), tmp_path)
    ran = judged(chronyd, "-p", "-f", path)
    assert ran.returncode == 0, ran.stderr
    directives = [line.split()[0] for line in ran.stdout.splitlines() if line.strip() and line[0] not in "#!;%"]
    assert set(directives) == {"driftfile", "makestep", "rtcsync", "local", "allow"}
    assert "0.0.0.0/0" not in ran.stdout
    path.write_text(f"{path.read_text(encoding='utf-8')}allow nowhere/99\n", encoding="utf-8")
    assert judged(chronyd, "-p", "-f", path).returncode != 0
