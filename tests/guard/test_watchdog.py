"""What the service manager hears, on a real datagram socket."""

import shutil
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bench_rig import DEADLINE_S, Rig


class Ear:
    """The service manager's end of the socket."""

    def __init__(self, listening: socket.socket) -> None:
        self._listening = listening

    def next(self) -> str:
        """Return the next message."""
        return self._listening.recv(4096).decode()

    def drained(self) -> list[str]:
        """Return what has been said so far and not been heard."""
        heard = []
        self._listening.setblocking(False)
        try:
            while True:
                heard.append(self.next())
        except BlockingIOError:
            return heard
        finally:
            self._listening.settimeout(DEADLINE_S)


@contextmanager
def _listening(name: str) -> Iterator[Ear]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(f"\0{name}")
        listening.settimeout(DEADLINE_S)
        yield Ear(listening)


def _address(tmp_path: Path) -> str:
    return f"reefguard-test{str(tmp_path).replace('/', '-')[-60:]}"


def test_ready_comes_after_the_first_complete_tick_and_the_watchdog_with_each(tmp_path: Path) -> None:
    with _listening(_address(tmp_path)) as ear, Rig(tmp_path) as rig:
        rig.water(27.0)
        rig.guard(NOTIFY_SOCKET=f"@{_address(tmp_path)}")
        heard: list[str] = []
        while not heard or heard[-1] != "READY=1":
            heard.append(ear.next())
        # All was done by then: outputs driven, status written, one tick complete.
        assert heard.count("WATCHDOG=1") == 1
        assert heard.index("WATCHDOG=1") == len(heard) - 2
        assert heard[0].startswith("STATUS=")
        assert [rig.pins()[name] for name in ("fan1", "fan2", "chiller")].count("") == 0
        assert rig.status()

        said: set[str] = set()
        while "WATCHDOG=1" not in said or not any("automatic" in one for one in said):
            said.add(ear.next())
        status = next(one for one in said if one.startswith("STATUS=") and "automatic" in one)
        assert "water 27.00 °C" in status

        ear.drained()
        assert rig.end("guard") == 0
        assert "STOPPING=1" in ear.drained()


def test_a_tick_that_could_not_drive_a_pin_feeds_no_watchdog_and_says_which(tmp_path: Path) -> None:
    with _listening(_address(tmp_path)) as ear, Rig(tmp_path) as rig:
        rig.water(26.0)
        rig.guard(NOTIFY_SOCKET=f"@{_address(tmp_path)}")
        rig.until(lambda: rig.mode() == "automatic", "the guard is at work")

        gpio = rig.bench.directory / "gpio"
        shutil.move(gpio, tmp_path / "aside")
        gpio.write_text("a file where the pins' directory belongs", encoding="utf-8")
        rig.until(lambda: "chiller not driven" in rig.findings(), "it is a finding")
        ear.drained()
        rig.ticks(5)
        assert "WATCHDOG=1" not in ear.drained()
        findings = rig.findings()
        for name in ("chiller", "fan1", "fan2"):
            assert findings[f"{name} not driven"]["severity"] == "critical"
            assert "Not a directory" in findings[f"{name} not driven"]["what"]

        gpio.unlink()
        shutil.move(tmp_path / "aside", gpio)
        rig.until(lambda: "chiller not driven" not in rig.findings(), "the pins are back")
        ear.drained()
        rig.ticks(2)
        assert "WATCHDOG=1" in ear.drained()
        assert rig.log().count("over: chiller not driven") == 1


def test_one_tick_by_itself_announces_nothing(tmp_path: Path) -> None:
    with _listening(_address(tmp_path)) as ear, Rig(tmp_path) as rig:
        once = rig.command(
            "guard", "--once", "--settings", str(rig.bench.settings), NOTIFY_SOCKET=f"@{_address(tmp_path)}"
        )
        assert once.returncode == 0
        assert "READY=1" not in ear.drained()
        assert "display: 25.62 °C" in once.stdout
        assert rig.pins()["chiller"] == "0"
