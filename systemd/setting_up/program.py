"""The program itself: each version complete in a directory of its own, and one link that says which runs.

    /opt/reefguard/releases/7/        a virtual environment; `complete` in it is written last
    /opt/reefguard/bin/reefguard  ->  ../releases/7/bin/reefguard

While a version is being installed, the one before it goes on guarding, and its
safe levels can be driven; a power cut leaves it in its place.
"""

import hashlib
import os
import shutil
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from setting_up.machine import Change, Machine, NotDone, holds, write

HOME: Final = "/opt/reefguard"
LINK: Final = f"{HOME}/bin/reefguard"
# For a person's shell, and for `sudo reefguard`.
COMMAND: Final = "/usr/local/bin/reefguard"

_UNITS: Final = {"reefguard-cutoff.service", "reefguard.service", "reefguard-link.service"}
_COMPLETE: Final = "complete"
_BUILT_FROM: Final = ("pyproject.toml", "README.md", "LICENSE")
# sysexits-like: `reefguard check` and `reefguard cutoff check` end with 2 on errors.
ERRORS: Final = 2


def packages(machine: Machine) -> Iterator[Change]:
    """Debian's packages: what makes virtual environments, and the pins' library where the system has it."""
    if not machine.whole:
        return
    needed = {"python3-venv": "ensurepip", "python3-lgpio": "lgpio"}
    lacking = [package for package, module in needed.items() if not imports(machine, sys.executable, module)]
    if lacking and not any(machine.at("/var/lib/apt/lists").glob("*_Packages*")):
        yield Change("fetch the list of the system's packages", lambda: machine.run("apt-get", "update"))
    # Raspberry Pi OS has lgpio; Debian itself has not.
    lacking = [one for one in lacking if one != "python3-lgpio" or _known_to_apt(machine, one)]
    if lacking:
        install = ("apt-get", "install", "--yes", "--no-install-recommends", *lacking)
        yield Change(f"install the system's packages {', '.join(lacking)}", lambda: machine.run(*install))


def imports(machine: Machine, python: str | Path, module: str) -> bool:
    """Return whether a Python has a module."""
    with tempfile.TemporaryDirectory() as place:  # importing lgpio makes a pipe where one stands
        return machine.succeeds(python, "-I", "-c", f"import os; os.chdir({place!r}); import {module}")


def _known_to_apt(machine: Machine, package: str) -> bool:
    return machine.succeeds("apt-cache", "show", package)


def program(machine: Machine) -> Iterator[Change]:
    """This version, built beside the one that runs, tried, then put in its place."""
    releases, link = machine.at(f"{HOME}/releases"), machine.at(LINK)
    had = _running_release(link)
    fingerprint = fingerprint_of(machine.checkout)
    if had is not None and holds(had / _COMPLETE, fingerprint) and machine.succeeds(link, "--version"):
        return
    numbers = [int(one.name) for one in releases.glob("*") if one.name.isdecimal()]
    new = releases / str(max(numbers, default=0) + 1)
    source = f"the wheels in {machine.wheels}" if machine.wheels else "this checkout, and PyPI"
    meanwhile = "" if had is None else "; the version that runs goes on meanwhile"
    yield Change(
        f"install reefguard {version_of(machine.checkout)} into {new}, from {source}{meanwhile}",
        lambda: _build(machine, new, fingerprint),
    )
    if had is not None:
        yield Change("see that it accepts the settings that are here", lambda: _try(machine, link, new))

    def put() -> None:
        _point(link, Path("..") / "releases" / new.name / "bin" / "reefguard")
        machine.touched |= _UNITS

    yield Change(f"make it the one that runs: {link}", put)
    old = [one for one in releases.glob("*") if one not in {new, had}]
    if old:
        names = ", ".join(sorted(one.name for one in old))

        def clear() -> None:
            for one in old:
                shutil.rmtree(one)

        yield Change(f"take away older or unfinished ones: {names}", clear)


def command(machine: Machine) -> Iterator[Change]:
    """The name a person types."""
    place, target = machine.at(COMMAND), Path(LINK)
    if place.is_symlink() and place.readlink() == target:
        return
    if place.exists() or place.is_symlink():
        message = f"{place} is there already and not ours; mend: move it away, then run this again"
        raise NotDone(message)
    yield Change(f"link {place} to {target}", lambda: _point(place, target))


def fingerprint_of(checkout: Path) -> bytes:
    """Return what tells one version of the program, on one version of Python, from another."""
    digest = hashlib.sha256(f"{sys.version_info[:2]}".encode())
    files = [path for path in (checkout / "reefguard").rglob("*") if path.is_file() and path.suffix != ".pyc"]
    for path in sorted([*files, checkout / "pyproject.toml"]):
        content = path.read_bytes()
        digest.update(f"\0{path.relative_to(checkout)}\0{len(content)}\0".encode() + content)
    return digest.hexdigest().encode() + b"\n"


def version_of(checkout: Path) -> str:
    """Return the version that the checkout says it is."""
    return str(tomllib.loads((checkout / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"])


def _running_release(link: Path) -> Path | None:
    return link.resolve().parents[1] if link.exists() else None


def _build(machine: Machine, new: Path, fingerprint: bytes) -> None:
    shutil.rmtree(new, ignore_errors=True)
    new.parent.mkdir(parents=True, exist_ok=True)
    # lgpio is the system's, where it has it: there is no wheel for every Pi.  All else is the
    # environment's own, so that an upgrade of the system changes nothing under a running guard.
    machine.run(sys.executable, "-m", "venv", "--system-site-packages", new)
    pip = (
        new / "bin" / "python",
        "-m",
        "pip",
        "--disable-pip-version-check",
        "install",
        "--ignore-installed",
    )
    source: tuple[str | Path, ...] = ()
    if machine.wheels is not None:
        source = ("--no-index", "--find-links", machine.wheels)
    if not imports(machine, new / "bin" / "python", "lgpio"):
        # Not built here: that takes a compiler.  Without it only a bench can be held, and that is told.
        machine.succeeds(*pip, "--only-binary", "lgpio", *source, "lgpio>=0.2.2")
    if machine.wheels is not None:
        machine.run(*pip, *source, f"reefguard[link]=={version_of(machine.checkout)}")
    else:
        # A copy: what pip leaves behind would belong to root, in somebody's checkout.
        with tempfile.TemporaryDirectory() as place:
            copy = Path(place) / "reefguard"
            ignored = shutil.ignore_patterns("__pycache__")
            shutil.copytree(machine.checkout / "reefguard", copy / "reefguard", ignore=ignored)
            for name in _BUILT_FROM:
                shutil.copy(machine.checkout / name, copy)
            machine.run(*pip, f"{copy}[link]")
    # Without its byte-code a program starts five times slower, and the services cannot write here.
    machine.run(new / "bin" / "python", "-m", "compileall", "-q", new / "lib")
    machine.run(new / "bin" / "reefguard", "--version")
    write(new / _COMPLETE, fingerprint)


def _try(machine: Machine, old: Path, new: Path) -> None:
    """See that settings which the running version accepts are accepted by the new one."""
    for words, place in (("check",), "reefguard.yaml"), (("cutoff", "check"), "cutoff.yaml"):
        file = machine.at(f"/etc/reefguard/{place}")
        if not file.exists():
            continue
        before = machine.exit_code(old, *words, file)
        if before < ERRORS <= machine.exit_code(new / "bin" / "reefguard", *words, file):
            message = (
                f"this version does not accept {file}, and the one that runs does; it goes on as it was\n"
                f"  mend: read `{new / 'bin' / 'reefguard'} {' '.join(words)} {file}`, then run this again"
            )
            raise NotDone(message)


def _point(link: Path, target: Path) -> None:
    link.parent.mkdir(parents=True, exist_ok=True)
    beside = link.with_name(f".{link.name}.new")
    beside.unlink(missing_ok=True)
    beside.symlink_to(target)
    beside.replace(link)
    os.sync()
