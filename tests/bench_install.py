"""`systemd/install` on clean Debian systems, by hand, as root: `python tests/bench_install.py bookworm`.

Makes each system with debootstrap, installs there for real (apt, pip, byte-code),
twice, has the installed program refuse the example settings, and removes it.
A few minutes each; needs root, debootstrap and a network.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

CHECKOUT = Path(__file__).parents[1]
MIRROR = os.environ.get("DEBIAN_MIRROR", "http://deb.debian.org/debian")
# What Raspberry Pi OS and a Debian server have from the beginning, and debootstrap leaves out.
THERE = "ca-certificates,python3,systemd,udev,dbus,procps"


class Clean:
    """A Debian system in a directory."""

    def __init__(self, root: Path, suite: str) -> None:
        self.root = root
        _run("debootstrap", "--variant=minbase", f"--include={THERE}", suite, str(root), MIRROR)
        for name in ("/etc/resolv.conf", "/etc/ssl/certs/ca-certificates.crt"):
            shutil.copyfile(name, root / name.lstrip("/"))
        ignored = shutil.ignore_patterns(".git", "__pycache__", ".venv*", "build", "*.egg-info", ".*_cache")
        shutil.copytree(CHECKOUT, root / "src", ignore=ignored)

    def run(self, words: str) -> tuple[int, str]:
        """Run a shell's line in it; return what it ended with and what it printed."""
        inside = 'mount -t proc proc "$0/proc" && mount --rbind /dev "$0/dev" && exec chroot "$0" sh -c "$1"'
        ran = subprocess.run(
            ["unshare", "--mount", "sh", "-c", f"exec 2>&1; {inside}", self.root, words],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            text=True,
            check=False,
        )
        return ran.returncode, ran.stdout

    def must(self, words: str, ends_with: int = 0, says: str = "") -> str:
        """Run a line that must end so, and say so."""
        code, said = self.run(words)
        print(f"$ {words}\n{said}", flush=True)
        if code != ends_with or says not in said:
            sys.exit(f"wanted it to end with {ends_with} and say {says!r}; it ended with {code}")
        return said


def _run(*words: str) -> None:
    subprocess.run(words, stdout=subprocess.DEVNULL, check=True)


def _try(suite: str, place: Path) -> None:
    clean = Clean(place / suite, suite)
    begun_s = time.monotonic()
    clean.must("cd /src && systemd/install", says="Installed.")
    print(f"{suite}: installed in {time.monotonic() - begun_s:.0f} s", flush=True)
    clean.must("! find /src -name '*.egg-info' -o -name build -o -name '*.pyc' | grep .")
    clean.must("cd /src && systemd/install", says="Everything was in place; nothing was changed.")
    clean.must("reefguard --version", says="reefguard")
    python = "/opt/reefguard/releases/1/bin/python"
    clean.run(f"cd /tmp && {python} -c 'import lgpio; print(lgpio.__file__)'")
    clean.must(f"{python} -c 'import gpiozero; print(gpiozero.__file__)'", says="/opt/reefguard/releases/1")
    clean.must("find /opt/reefguard -name '*.pyc' | grep -q reefguard/control/__pycache__/step")
    clean.must("id reefguard; id reefguard-cutoff; id reefguard-link; getent group reefguard-keeper")
    # As the services' users, on the example: nothing is switched.
    user = "setpriv --reuid=reefguard --regid=reefguard --init-groups"
    clean.must(f"cd /tmp && {user} reefguard guard --state /tmp/s", ends_with=78, says="YOURS")
    clean.must("reefguard check", ends_with=2, says="8 problems")
    clean.must("reefguard cutoff check", ends_with=2, says="3 problems")
    units = "reefguard.service reefguard-cutoff.service reefguard-link.service"
    clean.must(f"cd /etc/systemd/system && systemd-analyze verify --man=no {units}")
    for unit in units.split():
        clean.must(
            f"systemd-analyze security --offline=true --no-pager /etc/systemd/system/{unit} | tail -n 1"
        )
    clean.must("echo '# mine' >> /etc/reefguard/reefguard.yaml")
    clean.must("cd /src && systemd/install --remove", says="These stay")
    clean.must(
        "! test -e /opt/reefguard && ! test -e /usr/local/bin/reefguard && grep -q mine /etc/reefguard/*.yaml"
    )
    clean.must("cd /src && systemd/install --dry-run", says="would install reefguard")


if __name__ == "__main__":
    for suite in sys.argv[1:] or ["bookworm", "trixie"]:
        with tempfile.TemporaryDirectory(prefix="reefguard-clean-") as directory:
            _try(suite, Path(directory))
        print(f"{suite}: all as it should be", flush=True)
