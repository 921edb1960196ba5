"""Another system's root for tests of `systemd/install`: real files, users and enabled units, a faked pip."""

import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from setting_up.main import main

CHECKOUT = Path(__file__).parents[1]
# What ends up in the environment instead of what pip installs: the program as the tests have it.
PROGRAM = f"""\
#!/bin/sh
exec {sys.executable} -m reefguard "$@"
"""


class Root:
    """A directory that becomes a system, and the commands that were run for it."""

    def __init__(self, directory: Path) -> None:
        self.directory = directory
        self.ran: list[list[str]] = []
        self.broken: str | None = None
        (directory / "etc").mkdir(parents=True)

    def install(self, *arguments: str) -> int:
        """Run `systemd/install` for this root, in this process."""
        return main(["--root", str(self.directory), *arguments], self._run)

    def at(self, place: str) -> Path:
        return self.directory / place.lstrip("/")

    def files(self) -> dict[str, str]:
        """Return every file and link, with what it holds or where it points."""
        return {
            str(path.relative_to(self.directory)): (
                f"-> {path.readlink()}" if path.is_symlink() else path.read_bytes().decode(errors="replace")
            )
            for path in sorted(self.directory.rglob("*"))
            if path.is_symlink() or path.is_file()
        }

    def releases(self) -> list[str]:
        return sorted(one.name for one in self.at("/opt/reefguard/releases").iterdir())

    def _run(self, argv: Sequence[str]) -> "subprocess.CompletedProcess[str]":
        words = list(argv)
        self.ran.append(words)
        if self.broken is not None and self.broken in words:
            return subprocess.CompletedProcess(words, 1, "", "No space left on device")
        if words[1:3] == ["-m", "venv"]:
            _fake_environment(Path(words[-1]))
            return subprocess.CompletedProcess(words, 0, "", "")
        if words[1:3] in (["-m", "pip"], ["-m", "compileall"]):
            return subprocess.CompletedProcess(words, 0, "", "")
        return subprocess.run(words, capture_output=True, text=True, check=False)


def _fake_environment(place: Path) -> None:
    (place / "bin").mkdir(parents=True)
    (place / "lib").mkdir()
    program = place / "bin" / "reefguard"
    program.write_text(PROGRAM, encoding="utf-8")
    program.chmod(0o755)
    (place / "bin" / "python").symlink_to(sys.executable)


def needs_service_manager() -> bool:
    """Return whether the service manager's own commands are here."""
    return all(shutil.which(name) for name in ("systemctl", "systemd-sysusers"))
