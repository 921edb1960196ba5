"""What a person may ask of a running guard: about its alarms, and of one output while they watch it.

One JSON object in one line: `{"command": "shelve", "alarm": "water high", "for_s": 7200}`;
to acknowledge every alarm, `alarm` is null.  The answer is one too:
`{"said": "..."}` once it is done, `{"error": "..."}` if it is not.

    {"command": "exercise", "output": "fan1", "on": true, "for_s": 120, "session": "9f3c..."}

asks for an output to be on or off for so long; the same again, with the same
session and `"renew": true`, makes it last longer, and `"on": null` lets it go.
What has ended is not renewed, whatever ended it: only a person begins.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

SHORTEST_SHELF_S: Final = 60.0
LONGEST_SHELF_S: Final = 86_400.0
USUAL_SHELF_S: Final = 7_200.0

# A person whose terminal is gone asks for nothing any more: what they asked ends soon.
SHORTEST_WISH_S: Final = 5.0
LONGEST_WISH_S: Final = 120.0

_ALARM_COMMANDS: Final = ("acknowledge", "shelve", "unshelve")
_COMMANDS: Final = (*_ALARM_COMMANDS, "exercise")


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
class AskedOfOutput:
    """What a person asks of an output, well formed.

    Attributes:
        output: its name.
        on: what it shall be, or `None` to let it go.
        for_s: for how long.
        session: names this person's session: only it may renew or change what it asked.
        renews: whether it only makes last what the session asked before.
    """

    output: str
    on: bool | None
    for_s: float
    session: str
    renews: bool = False


@dataclass(frozen=True, slots=True)
class Refused:
    """A command that is none, and why."""

    why: str


def parse(line: bytes) -> Asked | AskedOfOutput | Refused:
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
    if command == "exercise":
        return _of_output(asked)
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


def _of_output(asked: Mapping[str, Any]) -> AskedOfOutput | Refused:
    output, on, session = asked.get("output"), asked.get("on"), asked.get("session")
    for_s = asked.get("for_s", LONGEST_WISH_S)
    if not isinstance(output, str) or not isinstance(session, str) or not session:
        return Refused("exercise takes an output's name and a session, both texts")
    if on is not None and not isinstance(on, bool):
        return Refused("on is true, false or null")
    if not isinstance(asked.get("renew", False), bool):
        return Refused("renew is true or false")
    if isinstance(for_s, bool) or not isinstance(for_s, int | float):
        return Refused("for_s is a number of seconds")
    if not SHORTEST_WISH_S <= for_s <= LONGEST_WISH_S:
        return Refused(f"an output can be asked for 5 s to 120 s at a time, not for {for_s} s")
    return AskedOfOutput(output, on, float(for_s), session, asked.get("renew", False))
