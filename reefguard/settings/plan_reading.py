"""Read a tank plan: strict YAML in, a plan or everything that is wrong out."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from reefguard.settings.outcome import Rejected
from reefguard.settings.plan_build import plan_from
from reefguard.settings.plan_fields import PLAN_FILE
from reefguard.settings.plan_model import TankPlan
from reefguard.settings.plan_rules import broken_file_rules
from reefguard.settings.problems import Problem
from reefguard.settings.reader import read_values
from reefguard.settings.text import text_of
from reefguard.settings.yaml_nodes import compose

EXAMPLE: Final = """\
# A tank to be planned.  Every quantity has its unit: cm, mm, in; L, gal; W, BTU/h; °C, °F.
tank: the reef
safe_band: {low: 24 °C, high: 27.8 °C}
hold_at: 26.5 °C
water: {volume: 340 L, salinity: 35}      # display, sump and pipes, without rock and sand
display:
  length: 120 cm
  width: 50 cm
  depth: 55 cm                            # of the water
  pane: glass                             # or acrylic
  thickness: 10 mm
  lid: 0 %                                # of the surface, under a lid that keeps the air off
  surface: rippled                        # calm, rippled or strong
sump: {length: 80 cm, width: 40 cm, depth: 25 cm}
stand: {vented: 10 m3/h}                  # a closed cabinet; leave it out when there is none
lights: {power: 250 W, on: 10:00, off: 20:00, into_water: 60 %}
pumps: 60 W
fans: {count: 2, air_speed: 1.5 m/s, swept: 40 %, power: 3 W, over: display}
chiller: {place: outside, running_current: 2.1 A}   # with `capacity: 500 W`, that chiller is judged
switch: {kind: relay, rating: 10 A, rated_for: resistive load}
heater: {power: 200 W, off_above: 24.5 °C}
room: {volume: 50 m3, air_changes: 0.5 /h, other_gains: 100 W}
weather: {hottest: 33 °C, coolest: 22 °C, humidity: 45 %}   # outdoors; or {file: summer.csv}
electricity: {price: 0.32 EUR/kWh}
"""


@dataclass(frozen=True, slots=True)
class AcceptedPlan:
    """The plan, and where its values stand.

    Attributes:
        lines: by the path of the key; a default stands where its section does.
    """

    plan: TankPlan
    lines: Mapping[str, int]


def read_plan(content: bytes) -> AcceptedPlan | Rejected:
    """Return the plan that a file's content gives, or all that is wrong with it.

    Never raises, whatever the content.
    """
    text = text_of(content)
    if isinstance(text, Problem):
        return Rejected((text,))
    table, structure = compose(text)
    if table is None:
        return Rejected(structure)
    sheet, misread = read_values(table, PLAN_FILE)
    problems = (*structure, *misread, *broken_file_rules(sheet))
    if problems:
        return Rejected(tuple(sorted(problems, key=lambda problem: problem.place)))
    return AcceptedPlan(plan_from(sheet), sheet.lines())


def broken_so_far(text: str) -> tuple[Problem, ...]:
    """Return the rules that a plan still being written breaks, whatever it does not say yet."""
    table, _ = compose(text)
    return () if table is None else broken_file_rules(read_values(table, PLAN_FILE)[0])
