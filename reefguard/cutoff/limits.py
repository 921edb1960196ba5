"""The cutoff's own settings, the limits file: text in; a setup, or everything that is wrong with it, out.

Pure.  `findings` weighs what is allowed but may surprise; `report` words both.
"""

from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Final

from reefguard.cutoff import quantities
from reefguard.cutoff.keys import Keys
from reefguard.cutoff.quantities import difference, span
from reefguard.cutoff.strict_yaml import Place, Problem, read_tree
from reefguard.cutoff.trip import Limits

DEFAULT_STATE_DIRECTORY: Final = "/var/lib/reefguard-cutoff"

_KEYS: Final = (
    "one_wire_directory", "state_directory", "runtime_directory",
    "probe", "probe_offset", "relay",
    "limit", "recovery", "trip_after", "probe_timeout", "good_for", "rest",
    "releases_per_day", "frozen_after", "sampling",
)  # fmt: skip
_RELAY_KEYS: Final = ("pin", "polarity")


@dataclass(frozen=True, slots=True)
class RelayWiring:
    """The relay: its GPIO number, and whether a high level energises it (energised: may run)."""

    pin: int
    active_high: bool


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything the limits file says.

    Attributes:
        one_wire_directory: where the kernel shows the probes.
        state_directory: where the latch is kept.
        runtime_directory: where the status and the reset requests are.
        probe: the kernel's name of the cutoff's own probe.
        probe_offset_c: added to its reading once the checks have passed.
        relay: the cutoff's own relay.
        limits: what the decision needs.
        sampling_s: how often the probe is read.
        fahrenheit: whether a person reads °F; inside, all is °C.
    """

    one_wire_directory: PurePosixPath
    state_directory: PurePosixPath
    runtime_directory: PurePosixPath
    probe: str
    probe_offset_c: float
    relay: RelayWiring
    limits: Limits
    sampling_s: float
    fahrenheit: bool


def read(text: str) -> Setup | list[Problem]:
    """Return the setup, or every problem of the text, in order of line."""
    top, problems, complete = read_tree(text)
    setup = _setup(Keys(top, "", _KEYS, problems, complete=complete))
    return sorted(problems, key=lambda problem: problem.place) if problems else setup


def unreadable(why: str, mend: str) -> list[Problem]:
    """Return the problem of a file that could not even be read."""
    return [Problem(Place(1, 1), "", "", why, mend)]


def _setup(keys: Keys) -> Setup:
    """Read each key once.  What stands in for a value that is wrong never gets out of `read`."""
    relay = keys.section("relay", _RELAY_KEYS, {"contact": _CONTACT})
    return Setup(
        one_wire_directory=_path(keys, "one_wire_directory", "/sys/bus/w1/devices"),
        state_directory=_path(keys, "state_directory", DEFAULT_STATE_DIRECTORY),
        runtime_directory=_path(keys, "runtime_directory", "/run/reefguard-cutoff"),
        probe=keys.need("probe", quantities.probe, instead=""),
        probe_offset_c=keys.take("probe_offset", _OFFSET, 0.0),
        relay=RelayWiring(
            pin=relay.need("pin", quantities.gpio, instead=0),
            active_high=relay.need("polarity", quantities.active_high, instead=False),
        ),
        limits=Limits(
            limit_c=keys.need("limit", quantities.temperature(15.0, 30.0), instead=0.0),
            recovery_c=keys.take("recovery", _RECOVERY, 0.5),
            trip_after_s=keys.take("trip_after", _TRIP_AFTER, 10.0),
            probe_timeout_s=keys.take("probe_timeout", _PROBE_TIMEOUT, 60.0),
            good_for_s=keys.take("good_for", _GOOD_FOR, 60.0),
            rest_s=keys.take("rest", _REST, 300.0),
            releases_per_day=keys.take("releases_per_day", quantities.count(0, 24), 3),
            frozen_after_s=keys.take("frozen_after", _FROZEN_AFTER, 86_400.0),
        ),
        sampling_s=keys.take("sampling", _SAMPLING, 2.0),
        fahrenheit=quantities.written_in_fahrenheit(keys.written("limit")),
    )


def _path(keys: Keys, key: str, default: str) -> PurePosixPath:
    return PurePosixPath(keys.take(key, quantities.directory, default))


_OFFSET = difference(-1.0, 1.0, "replace the probe: the data sheet allows it 0.5 °C")
_RECOVERY = difference(0.25, 5.0, "write 0.5 °C to 1 °C")
_TRIP_AFTER = span(4.0, 120.0, "one odd reading must not trip it, a cold tank must soon")
_PROBE_TIMEOUT = span(15.0, 600.0, "a single failed reading must not drop the relay, a dead probe must")
_GOOD_FOR = span(10.0, 3600.0, "the probe must prove itself before it is believed")
# 180 s between stop and start: Danfoss, SH scroll compressors, application guidelines (FRCC.PC.007).
_REST = span(180.0, 3600.0, "a compressor restarted sooner starts against pressure")
_FROZEN_AFTER = span(43_200.0, 172_800.0, "steady water repeats itself for hours, a dead probe for days")
_SAMPLING = span(1.0, 5.0, "one conversion takes up to 0.75 s, and the trip must not wait")

_CONTACT = (
    (
        "the cutoff has no such key: its relay must open the chiller's circuit whenever it is not energised, "
        "so that a dead Pi, a cut wire or a lost supply stops the chiller"
    ),
    "delete this key, and have the chiller wired through the normally open contact",
)
