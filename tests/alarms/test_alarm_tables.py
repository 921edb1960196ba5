"""The tables in the texts are those the code uses: `python tests/alarm_tables.py` makes them anew."""

from pathlib import Path

from alarm_tables import ALARMS, alarms_table, states_table

ROOT = Path(__file__).parents[2]


def test_each_state_has_a_representative() -> None:
    for state, (alarm, _) in ALARMS.items():
        assert alarm.state is state


def test_the_table_of_states_is_the_machines() -> None:
    assert states_table() in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_table_of_alarms_is_the_catalogue() -> None:
    assert alarms_table() in (ROOT / "README.md").read_text(encoding="utf-8")
