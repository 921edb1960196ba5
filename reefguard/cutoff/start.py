"""Everything that comes before the loop: read the limits, take the lock, open probe, relay and latch.

Exit statuses are those of sysexits.h: 78 the limits file is wrong, 69
something it needs cannot be had, 70 it failed at work.
"""

import fcntl
import os
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from reefguard.cutoff import findings
from reefguard.cutoff.clock import BenchError, BootClock, boot_id, clock_from, wall_text
from reefguard.cutoff.latch import LatchKeeper, read_latch
from reefguard.cutoff.limits import Setup
from reefguard.cutoff.limits_file import read_limits_file
from reefguard.cutoff.probe import Probe, ProbeReaderEndedError
from reefguard.cutoff.relay import Relay, RelayError, drop_last_known, open_factory, record_relay
from reefguard.cutoff.resets import TESTS_DIRECTORY_NAME, RequestDesk
from reefguard.cutoff.service import ServiceManager, StopSignal, say
from reefguard.cutoff.trip import Cause, Tripped, at_start
from reefguard.cutoff.watch import Parts, Watch

OK: Final = 0
UNAVAILABLE: Final = 69
FAILED: Final = 70
MISCONFIGURED: Final = 78


class Unavailable(Exception):  # noqa: N818  sysexits.h calls it so
    """Something the cutoff needs cannot be had, in words."""


def run(limits_file: Path, state_directory: Path) -> int:
    """Run the cutoff until it is stopped; return its exit status.

    Args:
        limits_file: the cutoff's own settings.
        state_directory: where to look for the last known relay if the limits file is no good.
    """
    try:
        clock = clock_from(os.environ)
    except BenchError as error:
        say(str(error))
        return MISCONFIGURED
    setup = read_limits_file(limits_file)
    if isinstance(setup, list):
        left = "cooling is held off until they are mended"
        say(findings.problems_in_words(str(limits_file), setup, left))
        _drop(state_directory)
        return MISCONFIGURED
    try:
        with _alone(setup):
            return _watch(setup, clock)
    except (Unavailable, RelayError) as error:
        say(str(error))
        return UNAVAILABLE
    except Exception as error:  # noqa: BLE001  a fault of ours: the relay is off; a person gets words
        say(f"the cutoff failed at {_where(error)}: {error!r}; cooling is held off\n  mend: report this line")
        return FAILED


def _where(error: Exception) -> str:
    """Name the place in the program where it failed."""
    frame = traceback.extract_tb(error.__traceback__)[-1]
    return f"{Path(frame.filename).name} line {frame.lineno}"


def _drop(state_directory: Path) -> None:
    try:
        say(drop_last_known(state_directory, os.environ))
    except RelayError as error:
        say(str(error))


@contextmanager
def _alone(setup: Setup) -> Iterator[None]:
    """Hold the lock of the runtime directory, so that no two cutoffs run on one relay."""
    directory = Path(setup.runtime_directory)
    try:
        directory.mkdir(parents=True, exist_ok=True)
        lock = (directory / "lock").open("wb")
    except OSError as error:
        raise Unavailable(
            f"the runtime directory {directory} cannot be used ({error.strerror})\n"
            "  mend: make it writable for the cutoff's user, or name another as `runtime_directory`"
        ) from error
    with lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise Unavailable(
                f"another cutoff is running: it holds {directory / 'lock'}\n"
                "  mend: stop that one first (`systemctl stop reefguard-cutoff`)"
            ) from error
        yield


def _watch(setup: Setup, clock: BootClock) -> int:
    probe = _open_probe(setup, clock)
    try:
        watch = _ready(setup, clock, probe)
        watch.until_stopped()
    except ProbeReaderEndedError as error:
        say(f"{error}: cooling is held off, and the cutoff ends so that it is started anew")
        return FAILED
    finally:
        probe.stop()
    return OK


def _open_probe(setup: Setup, clock: BootClock) -> Probe:
    try:
        return Probe(setup, clock)
    except OSError as error:
        raise Unavailable(
            f"the process that reads the probe cannot be started ({error.strerror})\n"
            f"  mend: see that {sys.executable} can be run by the cutoff's user"
        ) from error


def _ready(setup: Setup, clock: BootClock, probe: Probe) -> Watch:
    relay = Relay(setup.relay, open_factory(os.environ))
    stop = StopSignal()
    state_directory = Path(setup.state_directory)
    try:
        state_directory.mkdir(parents=True, exist_ok=True)
        record_relay(state_directory, setup.relay)
    except OSError as error:
        say(f"the relay cannot be noted ({error.strerror}): `reefguard cutoff drop` will not know it")
    try:
        runtime_directory, boot = Path(setup.runtime_directory), boot_id()
        desk, tests = RequestDesk(runtime_directory), RequestDesk(runtime_directory, TESTS_DIRECTORY_NAME)
    except OSError as error:
        raise Unavailable(
            f"{error.filename} cannot be used ({error.strerror})\n  mend: see who may"
        ) from error

    on_disk = read_latch(state_directory)
    latched = Tripped(Cause.LATCH_UNREADABLE) if on_disk is None else on_disk.tripped
    losses_s = on_disk.losses_in(boot) if on_disk is not None else ()
    since = on_disk.since if on_disk is not None and on_disk.tripped is not None else wall_text()
    cutoff = at_start(latched, losses_s=losses_s, now_s=clock.now_s())

    service = ServiceManager(os.environ.get("NOTIFY_SOCKET"))
    latch = LatchKeeper(state_directory, on_disk)
    parts = Parts(clock, probe, relay, latch, desk, tests, service, stop, boot)
    watch = Watch(setup, parts, cutoff, since)
    service.ready()
    return watch
