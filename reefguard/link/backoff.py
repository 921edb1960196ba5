"""How long to wait before a delivery is tried again."""

from typing import Final

FIRST_S: Final = 10.0
LONGEST_S: Final = 3_600.0
SPREAD: Final = 0.2
# After a week a message tells of a tank that was.
GIVE_UP_AFTER_S: Final = 7 * 86_400.0


def pause_s(failures: int, chance: float) -> float:
    """Return how long to wait after the latest of so many failures in a row.

    Twice as long each time, an hour at most; a fifth more or less by chance, so that many
    links that lost the same receiver do not all come back in the same second.

    Args:
        failures: how many, 1 or more.
        chance: a number drawn evenly from 0 to 1.

    >>> [pause_s(n, 0.5) for n in (1, 2, 3, 9, 10, 5000)]
    [10.0, 20.0, 40.0, 2560.0, 3600.0, 3600.0]
    >>> pause_s(1, 0.0), round(pause_s(1, 1.0), 9)
    (8.0, 12.0)
    """
    doublings = min(failures - 1, 12)
    plain_s = min(FIRST_S * 2.0**doublings, LONGEST_S)
    return plain_s * (1.0 - SPREAD + 2.0 * SPREAD * chance)


def given_up(waited_s: float) -> bool:
    """Return whether a message that has waited so long is tried no more.

    >>> given_up(7 * 86_400.0 - 1.0), given_up(7 * 86_400.0)
    (False, True)
    """
    return waited_s >= GIVE_UP_AFTER_S
