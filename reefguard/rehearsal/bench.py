"""A bench: a directory that stands in for a Pi's 1-wire bus and GPIO header.

    DIR/reefguard.yaml  the guard's settings      DIR/w1/     the 1-wire bus
    DIR/cutoff.yaml     the cutoff's limits       DIR/gpio/   the pins
    DIR/state/          what must last            DIR/run/    what may go
    DIR/state/cutoff/   the same, the cutoff's    DIR/run/cutoff/

Programs whose environment names the bench use it as they would use the Pi.
"""

import json
import os
import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from reefguard.commissioning import record
from reefguard.commissioning.record import Record
from reefguard.records import commissioning_log
from reefguard.rehearsal.bench_wire import BenchProbe

DISPLAY_ID = "28-000000000101"
SUMP_ID = "28-000000000102"
ROOM_ID = "28-000000000103"
CUTOFF_ID = "28-000000000201"

FAN_1, FAN_2, CHILLER, CUTOFF = 17, 27, 22, 23

LIGHTS_ON_HOUR, LIGHTS_OFF_HOUR = 10, 20

FIRST_WATER_C = 25.6
FIRST_ROOM_C = 27.0


@dataclass(frozen=True, slots=True)
class Bench:
    """The bench's places."""

    directory: Path

    @property
    def settings(self) -> Path:
        """The guard's settings file."""
        return self.directory / "reefguard.yaml"

    @property
    def limits(self) -> Path:
        """The cutoff's limits file."""
        return self.directory / "cutoff.yaml"

    @property
    def bus(self) -> Path:
        """The 1-wire bus."""
        return self.directory / "w1"

    @property
    def run(self) -> Path:
        """The guard's runtime directory."""
        return self.directory / "run"

    @property
    def state(self) -> Path:
        """The guard's state directory."""
        return self.directory / "state"

    @property
    def cutoff_run(self) -> Path:
        """The cutoff's runtime directory."""
        return self.run / "cutoff"

    @property
    def link_run(self) -> Path:
        """The link's runtime directory."""
        return self.run / "link"

    @property
    def link_state(self) -> Path:
        """The link's state directory."""
        return self.state / "link"

    @property
    def cutoff_state(self) -> Path:
        """The cutoff's state directory."""
        return self.state / "cutoff"

    def pin_high(self, pin: int) -> bool:
        """Return whether a pin is driven high."""
        try:
            return (self.directory / "gpio" / f"GPIO{pin}").read_text(encoding="ascii").strip() == "1"
        except OSError:
            return False

    def environment(self, speed: float, base: Mapping[str, str] = os.environ) -> dict[str, str]:
        """Return the environment in which a program takes this bench for its hardware."""
        environment = {
            **base,
            "GPIOZERO_PIN_FACTORY": "bench",
            "REEFGUARD_BENCH": str(self.directory),
            "REEFGUARD_BENCH_SPEED": f"{speed:g}",
        }
        environment.pop("NOTIFY_SOCKET", None)
        return environment


def prepare(directory: Path) -> Bench:
    """Make a bench, or make one anew: files that are there already are written again.

    Raises:
        OSError: the directory cannot be written.
    """
    bench = Bench(directory.absolute())
    for place in (bench.bus, bench.directory / "gpio", bench.cutoff_state, bench.cutoff_run):
        place.mkdir(parents=True, exist_ok=True)
    bench.settings.write_text(settings_text(bench), encoding="utf-8")
    bench.limits.write_text(limits_text(bench), encoding="utf-8")
    for rom_id in (DISPLAY_ID, SUMP_ID, CUTOFF_ID):
        BenchProbe(bench.bus, rom_id).show(FIRST_WATER_C)
    BenchProbe(bench.bus, ROOM_ID).show(FIRST_ROOM_C)
    return bench


def serve_page(bench: Bench, port: int) -> None:
    """Have the settings say that the link serves a page, on the loopback address only.

    Raises:
        OSError: the settings cannot be written.
    """
    with bench.settings.open("a", encoding="utf-8") as settings:
        settings.write(
            f"""
link:
  page: {{listen: "127.0.0.1:{port}"}}
  state_directory: {_quoted(bench.link_state)}
  runtime_directory: {_quoted(bench.link_run)}
  guard_silent_after: 10 min
"""
        )


def commission(bench: Bench, at: datetime) -> None:
    """Put on record what a keeper does before the animals depend on it.

    Raises:
        OSError: the directory cannot be written.
    """
    directory = commissioning_log.directory_in(bench.state)
    commissioning_log.prepare(directory)
    tested = Record(
        kind=record.PROOF_TEST,
        subject="cutoff",
        at_wall=at,
        clock_trusted=True,
        who="bench",
        tank="the bench",
        outcome=record.PASSED,
        what="a bench counts as tested",
    )
    commissioning_log.append(directory, tested)


def by_hand(bench: Bench) -> str:
    """Return how a person starts each program on this bench."""
    directory = shlex.quote(str(bench.directory))
    settings, limits = shlex.quote(str(bench.settings)), shlex.quote(str(bench.limits))
    return f"""\
The bench is in {directory}.  In each terminal, first:

  export GPIOZERO_PIN_FACTORY=bench REEFGUARD_BENCH={directory}

and, to have its time run 60 times faster, in every terminal alike:

  export REEFGUARD_BENCH_SPEED=60

Then, each in its own terminal:

  reefguard guard --settings {settings}
  reefguard cutoff --limits {limits}
  reefguard status --settings {settings} --watch

The water: change {DISPLAY_ID}, {SUMP_ID} and {CUTOFF_ID} under {shlex.quote(str(bench.bus))}.
The pins:  read {directory}/gpio/GPIO{FAN_1} (fan 1), GPIO{FAN_2} (fan 2), GPIO{CHILLER} (chiller), \
GPIO{CUTOFF} (cutoff).
"""


def settings_text(bench: Bench) -> str:
    """Return the guard's settings for a bench."""
    return f"""\
# The bench's tank.  A first settings file for a Pi looks the same, without the directories.
tank: the bench
one_wire_directory: {_quoted(bench.bus)}
state_directory: {_quoted(bench.state)}
runtime_directory: {_quoted(bench.run)}
sampling: 5 s

safe_band:
  low: 24.0 °C
  high: 27.8 °C

water_probes:
  display: {{id: {DISPLAY_ID}}}
  sump: {{id: {SUMP_ID}}}

room_air:
  id: {ROOM_ID}

fans:
  cut_in: 26.6 °C
  cut_out: 26.2 °C
  units:
    fan1: {{pin: GPIO{FAN_1}, polarity: active high, contact: normally open, at_rest: stopped}}
    fan2: {{pin: GPIO{FAN_2}, polarity: active high, contact: normally open, at_rest: stopped}}

chiller:
  pin: GPIO{CHILLER}
  polarity: active high
  contact: normally open
  cut_in: 27.2 °C
  cut_out: 26.6 °C
  minimum_off: 5 min
  minimum_on: 2 min
  start_to_start: 7 min
  cutoff: {_quoted(bench.cutoff_run / "status.json")}

lights:
  on: {LIGHTS_ON_HOUR}:00
  off: {LIGHTS_OFF_HOUR}:00
  after_run: 60 min
"""


def limits_text(bench: Bench) -> str:
    """Return the cutoff's limits for a bench."""
    return f"""\
# The bench's over-cool cutoff: its own probe, its own relay, its own file.
one_wire_directory: {_quoted(bench.bus)}
state_directory: {_quoted(bench.cutoff_state)}
runtime_directory: {_quoted(bench.cutoff_run)}
probe: {CUTOFF_ID}
relay: {{pin: GPIO{CUTOFF}, polarity: active high}}
limit: 24.5 °C
sampling: 2 s
"""


def _quoted(path: Path) -> str:
    """Return a path as a double-quoted YAML string: JSON's quoting is a part of YAML's."""
    return json.dumps(str(path), ensure_ascii=False)
