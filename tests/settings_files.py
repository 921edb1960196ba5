"""Settings files for tests: a whole one, the shortest one, and ways to change them."""

import copy
from collections.abc import Mapping
from typing import TypeAlias

from reefguard.settings.outcome import Accepted, Rejected
from reefguard.settings.problems import Problem
from reefguard.settings.reading import read
from reefguard.settings.yaml_nodes import Listing, Node, Scalar, Table, compose

# A file as nested keys; a value is what stands after the colon, as it is written.
Tree: TypeAlias = dict[str, "str | Tree"]

WHOLE = """\
tank: North reef
show_temperatures_in: °C            # or °F
one_wire_directory: /sys/bus/w1/devices
one_wire_pins: [GPIO4]
state_directory: /var/lib/reefguard
runtime_directory: /run/reefguard
sampling: 5 s
clock: set over the network         # or: always right
safe_band:
  low: 24.0 °C
  high: 27.8 °C
water_probes:
  display: {id: 28-000000000101}
  sump: {id: 28-000000000102, offset: 0.1 °C}
room_air:
  id: 28-000000000103
  humidity_file: /sys/bus/iio/devices/iio:device0/in_humidityrelative_input
trust:
  stale_after: 1 min
  trusted_after: 1 min
  schedule_after: 3 min
  frozen_after: 24 h
  fastest_change: 1 °C/min
  disagreement: 1.0 °C
fans:
  cut_in: 26.6 °C
  cut_out: 26.2 °C
  staging: together
  all_day: 24 h
  heat_margin: 1 °C
  units:
    fan1: {pin: GPIO17, polarity: active high, contact: normally open, at_rest: stopped}
    fan2:
      pin: GPIO27
      out_of_service: false
      speed: {frequency: 100 Hz, slowest: 30 %, full_at: 27.0 °C}
chiller:
  pin: GPIO22
  polarity: active high
  contact: normally open
  cut_in: 27.2 °C
  cut_out: 26.6 °C
  minimum_off: 5 min
  minimum_on: 2 min
  start_to_start: 10 min
  longest_run: 4 h
  out_of_service: false
  cutoff: /run/reefguard-cutoff/status.json
  cutoff_silent_after: 30 s
  proof_test_every: 90 days
  running_input: {pin: GPIO5, active: high}
  flow_input: {pin: GPIO6, active: low}
  electrical: {running_current: 1.6 A, starting_current: 9 A, switch_rating: 10 A, rated_for: resistive load}
lights:
  on: 10:00
  off: 20:00
  after_run: 60 min
  clock: local time
  sense: {pin: GPIO16, active: high}
  when_time_unknown: fans run
heater:
  off_above: 25.0 °C
"""

SHORTEST = """\
tank: Small reef
safe_band: {low: 24 °C, high: 28 °C}
water_probes:
  tank: {id: 28-00000000020a}
chiller:
  pin: header 15
  setpoint: 26.2 °C
  differential: 0.4 °C
lights: {on: 09:30, off: 21:15}
"""

LEAD_AND_LAG = WHOLE.replace("staging: together", "staging: lead and lag")


def accepted(text: str) -> Accepted:
    """Return what `text` is accepted as; show the problems if it is not."""
    outcome = read(text)
    assert isinstance(outcome, Accepted), outcome
    return outcome


def problems(text: str) -> tuple[Problem, ...]:
    """Return what `text` is rejected for."""
    outcome = read(text)
    assert isinstance(outcome, Rejected), "accepted"
    return outcome.problems


def only_problem(text: str) -> Problem:
    """Return the one problem of `text`."""
    (problem,) = problems(text)
    return problem


def changed(old: str, new: str, text: str = WHOLE) -> str:
    """Return `text` with its one `old` replaced."""
    assert text.count(old) == 1, (old, text.count(old))
    return text.replace(old, new)


def tree_of(text: str = WHOLE) -> Tree:
    """Return a file as nested keys."""
    table, _ = compose(text)
    assert table is not None
    return _tree(table)


def _tree(table: Table) -> Tree:
    return {entry.key: _value(entry.value) for entry in table.entries}


def _value(node: Node) -> str | Tree:
    match node:
        case Scalar():
            return node.text
        case Table():
            return _tree(node)
        case Listing():
            return "[" + ", ".join(str(_value(item)) for item in node.items) + "]"
        case _:
            raise AssertionError(node)


def with_keys(changes: Mapping[str, str | Tree | None], text: str = WHOLE) -> str:
    """Return the file with keys set by their path; `None` takes a key out."""
    tree = copy.deepcopy(tree_of(text))
    for path, value in changes.items():
        *sections, key = path.split(".")
        at = tree
        for section in sections:
            inner = at.setdefault(section, {})
            assert isinstance(inner, dict), path
            at = inner
        if value is None:
            del at[key]
        else:
            at[key] = value
    return written(tree)


def written(tree: Tree, indent: str = "") -> str:
    """Return the tree as a file, one key a line."""
    lines = []
    for key, value in tree.items():
        if isinstance(value, dict) and value:
            lines.append(f"{indent}{key}:\n{written(value, indent + '  ')}")
        else:
            lines.append(f"{indent}{key}: {'{}' if value == {} else value}\n")
    return "".join(lines)
