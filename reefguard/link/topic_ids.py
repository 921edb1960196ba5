"""Names as topic levels: Homie allows small letters, digits and hyphens, no hyphen at either end."""

import re
from collections.abc import Iterable


def topic_id(name: str) -> str:
    """Return a name as a topic level.

    >>> topic_id("Left_fan")
    'left-fan'
    >>> topic_id("probe display not used")
    'probe-display-not-used'
    >>> topic_id("Über")
    'ber'
    >>> topic_id("?")
    'x'
    """
    return re.sub("[^a-z0-9]+", "-", name.lower()).strip("-") or "x"


def unique_ids(names: Iterable[str], prefix: str = "") -> dict[str, str]:
    """Return a topic level for each name; where two come to the same, the later one gets a number.

    Args:
        names: each once.
        prefix: before each, to keep one kind of thing apart from another.

    >>> unique_ids(["Fan_1", "fan-1", "fan-1-2"])
    {'Fan_1': 'fan-1', 'fan-1': 'fan-1-2', 'fan-1-2': 'fan-1-2-2'}
    """
    ids: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        plain = prefix + topic_id(name)
        one, number = plain, 1
        while one in taken:
            number += 1
            one = f"{plain}-{number}"
        taken.add(one)
        ids[name] = one
    return ids
