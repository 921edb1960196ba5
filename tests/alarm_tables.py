"""The tables of alarms in DEVELOPERS.md and README.md, made from what the code uses.

python tests/alarm_tables.py        prints them; a test holds them against the texts
"""

from reefguard.alarms.catalogue import CATALOGUE
from reefguard.alarms.machine import Acknowledge, Alarm, Command, Reset, Rule, Shelve, State, Unshelve, step

NOW_S, LATER_S = 0.0, 60.0

# A representative of each state, with the rule of its kind.
ALARMS: dict[State, tuple[Alarm, Rule]] = {
    State.NORMAL: (Alarm(), Rule()),
    State.UNACKNOWLEDGED: (Alarm(active=True, unacknowledged=True), Rule()),
    State.ACKNOWLEDGED: (Alarm(active=True), Rule()),
    State.RETURNED: (Alarm(unacknowledged=True), Rule()),
    State.LATCHED_UNACKNOWLEDGED: (Alarm(unacknowledged=True, latched=True), Rule(latching=True)),
    State.LATCHED_ACKNOWLEDGED: (Alarm(latched=True), Rule(latching=True)),
    State.SHELVED: (Alarm(active=True, shelved_until_s=LATER_S), Rule()),
    State.SUPPRESSED: (Alarm(active=True, suppressed=True), Rule()),
    State.OUT_OF_SERVICE: (Alarm(active=True, out_of_service=True), Rule()),
}


def _after(
    alarm: Alarm, rule: Rule, *, condition: bool | None = None, command: Command | None = None
) -> State:
    return step(
        alarm,
        condition=condition,
        now_s=NOW_S,
        rule=rule,
        command=command,
        suppressed=alarm.suppressed,
        out_of_service=alarm.out_of_service,
    ).alarm.state


def states_table() -> str:
    """Return what becomes of an alarm in each state, once the delays have passed."""
    head = ["state", "cause comes", "cause goes", "acknowledged", "reset", "shelved", "shelf ends"]
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for state, (alarm, rule) in ALARMS.items():
        stands = alarm._replace(shelved_until_s=NOW_S) if alarm.shelved_until_s is not None else alarm
        after = [
            _after(alarm, rule, condition=True),
            _after(alarm, rule, condition=False),
            _after(alarm, rule, command=Acknowledge()),
            _after(alarm, rule, command=Reset()),
            _after(alarm, rule, command=Shelve(LATER_S)),
            _after(stands, rule, command=Unshelve()),
        ]
        cells = [state.value, *("" if one is state else one.value for one in after)]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def alarms_table() -> str:
    """Return every alarm, the most urgent first: how soon, what it means, what to do first."""
    lines = ["| alarm | act | it means | do first |", "|---|---|---|---|"]
    lines += [
        f"| {kind.name.replace('*', '…')} | {kind.priority.within} | {kind.means} | {kind.first} |"
        for kind in sorted(CATALOGUE, key=lambda kind: -kind.priority)
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(states_table())  # noqa: T201  run by hand
    print(alarms_table())  # noqa: T201  the same
