"""What the README says of drills is what the reader takes."""

import re
from pathlib import Path

from reefguard.rehearsal.drills.drill import Drill
from reefguard.rehearsal.drills.reading import read_drill
from reefguard.rehearsal.drills.turns import TURNS

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def test_the_drill_in_the_readme_reads() -> None:
    (text,) = re.findall(r"```yaml\n(says: .*?)```", README, flags=re.DOTALL)
    outcome = read_drill(text.encode(), "my-drill")
    assert isinstance(outcome, Drill), outcome
    assert len(outcome.events) == 2


def test_the_table_lists_every_part_and_what_can_become_of_it() -> None:
    rows = {}
    for parts, turns in re.findall(r"^\| (`.*?) \| (.*?) \|$", README, flags=re.MULTILINE):
        named = re.sub(r"\(.*?\)", "", parts)
        for part in re.findall("`(.*?)`", named):
            rows[part] = set(re.findall("`(.*?)`", re.sub(r"\(.*?\)", "", turns)))
    expected = {part.value: {turn.value for turn in turns} for part, turns in TURNS.items()}
    assert {part: rows.get(part) for part in expected} == expected
