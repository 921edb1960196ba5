"""What a person may ask of a running guard: to acknowledge alarms, to shelve one, to take it from the shelf.

One JSON object in one line: `{"command": "shelve", "alarm": "water high", "for_s": 7200}`;
to acknowledge every alarm, `alarm` is null.  The answer is one too:
`{"said": "..."}` once it is done, `{"error": "..."}` if it is not.
"""

import json
from dataclasses import dataclass
from typing import Any, Final

SHORTEST_SHELF_S: Final = 60.0
LONGEST_SHELF_S: Final = 86_400.0
USUAL_SHELF_S: Final = 7_200.0

_COMMANDS: Final = ("acknowledge", "shelve", "unshelve")


@dataclass(frozen=True, slots=True)
class Asked:
    """A command that is well formed.

    Attributes:
        command: `acknowledge`, `shelve` or `unshelve`.
        alarm: its name, or `None` for all of them.
        for_s: how long a shelf shall last.
    """

    command: str
    alarm: str | None
    for_s: float = USUAL_SHELF_S


@dataclass(frozen=True, slots=True)
class Refused:
    """A command that is none, and why."""

    why: str


def parse(line: bytes) -> Asked | Refused:
    """Read one command.

    >>> parse(b'{"command": "acknowledge", "alarm": null}')
    Asked(command='acknowledge', alarm=None, for_s=7200.0)
    >>> parse(b'{"command": "shelve", "alarm": "water high", "for_s": 5}')
    Refused(why='an alarm can be shelved for 1 min to 24 h, not for 5 s')
    """
    try:
        asked = json.loads(line)
    except (ValueError, RecursionError):
        return Refused("this is no command: it is not JSON")
    if not isinstance(asked, dict):
        return Refused("this is no command: it is no JSON object")
    command, alarm = asked.get("command"), asked.get("alarm")
    if not isinstance(command, str) or command not in _COMMANDS:
        return Refused(f"there is no such command; there are {', '.join(_COMMANDS)}")
    if alarm is None and command != "acknowledge":
        return Refused(f"{command} takes one alarm's name")
    if alarm is not None and not isinstance(alarm, str):
        return Refused("an alarm's name is a text")
    return _lasting(command, alarm, asked.get("for_s", USUAL_SHELF_S))


def _lasting(command: str, alarm: str | None, for_s: Any) -> Asked | Refused:  # noqa: ANN401  from JSON
    if isinstance(for_s, bool) or not isinstance(for_s, int | float):
        return Refused("for_s is a number of seconds")
    if not SHORTEST_SHELF_S <= for_s <= LONGEST_SHELF_S:
        return Refused(f"an alarm can be shelved for 1 min to 24 h, not for {for_s} s")
    return Asked(command, alarm, float(for_s))
