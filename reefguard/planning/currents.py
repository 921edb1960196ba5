"""The chiller's currents against the rating of what switches it.

A load that may run for three hours or more counts as continuous, and a circuit
or device carries it up to 80 % of its rating: common practice in North
American codes (NEC 210.20(A), from memory).  Local codes decide; the wiring is
a licensed electrician's work.
"""

from reefguard.planning.model import Currents
from reefguard.settings.model import RatedFor
from reefguard.settings.plan_model import ChillerPlan, SwitchPlan

CONTINUOUS_SHARE = 0.8
STARTING_OVER_RUNNING = 6.0  # common practice, no source: five to eight times for small compressors


def currents_of(chiller: ChillerPlan, switch: SwitchPlan | None) -> Currents | None:
    """Return the currents, or `None` where the keeper names no running current."""
    running_a = chiller.running_current_a
    if running_a is None:
        return None
    given_a = chiller.starting_current_a
    rating_a = None if switch is None else switch.rating_a
    return Currents(
        running_a=running_a,
        starting_a=STARTING_OVER_RUNNING * running_a if given_a is None else given_a,
        starting_is_estimate=given_a is None,
        rating_a=rating_a,
        continuous_a=None if rating_a is None else CONTINUOUS_SHARE * rating_a,
        rated_for_motor=switch is not None and switch.rated_for is RatedFor.MOTOR,
    )
