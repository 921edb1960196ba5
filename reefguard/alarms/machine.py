"""One alarm: the states and rules of ANSI/ISA-18.2 and IEC 62682.

Two bits are stored, active and unacknowledged; the state a person is shown is
derived from them, from what keeps it quiet, and from the latch:

    out of service   a person has taken it out; nothing is announced
    suppressed       by design: the consequence of an alarm that stands already
    shelved          a person has put it away for a time; it comes back by itself
    latched          the condition has gone, and a person must reset it
    unacknowledged   active, and nobody has said that they know
    acknowledged     active, and somebody has
    returned         the condition has gone before anybody acknowledged it
    normal           none of these

Within one step the person's command comes first, then what is kept quiet,
then the condition.  Acknowledging never clears.  A reset does nothing while
the condition lasts, and starts nothing.  A condition that is not known
(`None`) leaves everything as it is.
"""

from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple, TypeAlias


class State(Enum):
    """What a person is shown; the tags are those of ISA-18.2."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned, unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched, unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched, acknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


class Transition(Enum):
    """What happened to an alarm in one step."""

    RAISED = "raised"
    RETURNED = "returned to normal"
    ACKNOWLEDGED = "acknowledged"
    RESET = "reset"
    SHELVED = "shelved"
    UNSHELVED = "unshelved"
    SUPPRESSED = "suppressed by design"
    UNSUPPRESSED = "no longer suppressed"
    TAKEN_OUT = "taken out of service"
    PUT_BACK = "put back into service"


@dataclass(frozen=True, slots=True)
class Rule:
    """How one kind of alarm behaves.

    Attributes:
        on_delay_s: how long the condition must hold before it is raised.
        off_delay_s: how long it must be gone before it returns.
        latching: whether it stays until a person resets it.
    """

    on_delay_s: float = 0.0
    off_delay_s: float = 0.0
    latching: bool = False


class Alarm(NamedTuple):
    """What is remembered of one alarm.  Times are those of the boot clock.

    Attributes:
        active: the condition has held for its delay, and has not been gone for the other.
        unacknowledged: it was announced, and nobody has acknowledged it.
        latched: the condition has gone, and the latch holds.
        turning_since_s: since when the condition is other than `active`; `None` while it is not.
        raised_s: when it last became active.
        shelved_until_s: when a shelf ends; `None` when it is not shelved.
        suppressed: by design, at the last step.
        out_of_service: at the last step.
    """

    active: bool = False
    unacknowledged: bool = False
    latched: bool = False
    turning_since_s: float | None = None
    raised_s: float | None = None
    shelved_until_s: float | None = None
    suppressed: bool = False
    out_of_service: bool = False

    @property
    def quiet(self) -> bool:
        """Whether something keeps it from being announced."""
        return self.out_of_service or self.suppressed or self.shelved_until_s is not None

    @property
    def state(self) -> State:
        """What a person is shown."""
        if self.out_of_service:
            return State.OUT_OF_SERVICE
        if self.suppressed:
            return State.SUPPRESSED
        if self.shelved_until_s is not None:
            return State.SHELVED
        if self.active:
            return State.UNACKNOWLEDGED if self.unacknowledged else State.ACKNOWLEDGED
        if self.latched:
            return State.LATCHED_UNACKNOWLEDGED if self.unacknowledged else State.LATCHED_ACKNOWLEDGED
        return State.RETURNED if self.unacknowledged else State.NORMAL


class Acknowledge(NamedTuple):
    """A person knows of it."""


class Reset(NamedTuple):
    """A person has seen to it that it may be forgotten."""


class Shelve(NamedTuple):
    """A person puts it away until a time."""

    until_s: float


class Unshelve(NamedTuple):
    """A person takes it from the shelf."""


Command: TypeAlias = Acknowledge | Reset | Shelve | Unshelve


class Happened(NamedTuple):
    """The alarm after a step, and what happened in it, in order."""

    alarm: Alarm
    transitions: tuple[Transition, ...]


def step(
    alarm: Alarm,
    *,
    condition: bool | None,
    now_s: float,
    rule: Rule,
    command: Command | None = None,
    suppressed: bool = False,
    out_of_service: bool = False,
) -> Happened:
    """Take one moment into account.

    Args:
        alarm: before.
        condition: whether what it warns of holds now; `None` when that cannot be told.
        now_s: boot clock.
        rule: of its kind.
        command: a person's, if there is one.
        suppressed: whether an alarm that stands already explains this one.
        out_of_service: whether a person has taken it out.
    """
    # Most alarms, most of the time: nothing has changed, and nothing does.
    if (
        command is None
        and (condition is None or condition is alarm.active)
        and alarm.turning_since_s is None
        and suppressed is alarm.suppressed
        and out_of_service is alarm.out_of_service
        and (alarm.shelved_until_s is None or now_s < alarm.shelved_until_s)
    ):
        return Happened(alarm, ())
    happened: list[Transition] = []
    was_quiet = alarm.quiet
    if command is not None:
        alarm = _obeyed(alarm, command, now_s, happened)
    alarm = _kept_quiet(alarm, now_s, suppressed, out_of_service, happened)
    if condition is not None:
        alarm = _followed(alarm, condition, now_s, rule, happened)
    stands = alarm.active or alarm.latched
    if was_quiet and stands and not alarm.quiet and not alarm.unacknowledged:
        # Nothing keeps it quiet any more.
        happened.append(Transition.RAISED)
        alarm = alarm._replace(unacknowledged=True)
    return Happened(alarm, tuple(happened))


def _obeyed(alarm: Alarm, command: Command, now_s: float, happened: list[Transition]) -> Alarm:
    match command:
        case Acknowledge() if alarm.unacknowledged:
            happened.append(Transition.ACKNOWLEDGED)
            return alarm._replace(unacknowledged=False)
        case Reset() if alarm.latched and not alarm.active:
            happened.append(Transition.RESET)
            return alarm._replace(latched=False, unacknowledged=False)
        case Shelve(until_s) if until_s > now_s:
            if alarm.shelved_until_s is None:
                happened.append(Transition.SHELVED)
            return alarm._replace(shelved_until_s=until_s, unacknowledged=False)
        case Unshelve() if alarm.shelved_until_s is not None:
            happened.append(Transition.UNSHELVED)
            return alarm._replace(shelved_until_s=None)
        case _:
            return alarm


def _kept_quiet(
    alarm: Alarm, now_s: float, suppressed: bool, out_of_service: bool, happened: list[Transition]
) -> Alarm:
    if alarm.shelved_until_s is not None and now_s >= alarm.shelved_until_s:
        happened.append(Transition.UNSHELVED)
        alarm = alarm._replace(shelved_until_s=None)
    if suppressed is not alarm.suppressed:
        happened.append(Transition.SUPPRESSED if suppressed else Transition.UNSUPPRESSED)
        alarm = alarm._replace(suppressed=suppressed)
    if out_of_service is not alarm.out_of_service:
        happened.append(Transition.TAKEN_OUT if out_of_service else Transition.PUT_BACK)
        unacknowledged = alarm.unacknowledged and not out_of_service
        alarm = alarm._replace(out_of_service=out_of_service, unacknowledged=unacknowledged)
    return alarm


def _followed(alarm: Alarm, condition: bool, now_s: float, rule: Rule, happened: list[Transition]) -> Alarm:
    if condition is alarm.active:
        return alarm if alarm.turning_since_s is None else alarm._replace(turning_since_s=None)
    since_s = now_s if alarm.turning_since_s is None else alarm.turning_since_s
    delay_s = rule.on_delay_s if condition else rule.off_delay_s
    if now_s - since_s < delay_s:
        return alarm._replace(turning_since_s=since_s)
    alarm = alarm._replace(active=condition, turning_since_s=None)
    if not condition:
        happened.append(Transition.RETURNED)
        return alarm._replace(latched=alarm.latched or rule.latching)
    alarm = alarm._replace(raised_s=since_s)
    if alarm.quiet:
        return alarm
    happened.append(Transition.RAISED)
    return alarm._replace(unacknowledged=True)
