"""Placing words so that no two lie on each other."""

from collections.abc import Sequence

BETWEEN_PX = 8.0
"""Free paper between two stretches in a lane."""


def lanes(extents: Sequence[tuple[float, float]], most: int) -> list[int | None]:
    """Give each stretch the first lane in which nothing is in its way.

    Args:
        extents: left and right edge of each; the leftmost are placed first.
        most: number of lanes there may be.

    Returns:
        The lane of each, in the order given, or `None` where all lanes are taken.

    >>> lanes([(0.0, 50.0), (30.0, 60.0), (70.0, 90.0)], 2)
    [0, 1, 0]
    """
    ends: list[float] = []
    found: list[int | None] = [None] * len(extents)
    for index in sorted(range(len(extents)), key=lambda index: extents[index]):
        left, right = extents[index]
        free = next((lane for lane, end in enumerate(ends) if end + BETWEEN_PX <= left), len(ends))
        if free == most:
            continue
        ends[free:] = [right, *ends[free + 1 :]]
        found[index] = free
    return found


def stairs(extents: Sequence[tuple[float, float]]) -> list[int]:
    """Give each stretch a lane so that a line down to its left edge crosses no other stretch.

    Args:
        extents: left and right edge of each; the rightmost are placed first.

    Returns:
        The lane of each, in the order given.

    >>> stairs([(0.0, 50.0), (30.0, 60.0), (70.0, 90.0)])
    [1, 0, 0]
    """
    starts: list[float] = []
    found = [0] * len(extents)
    for index in sorted(range(len(extents)), key=lambda index: extents[index], reverse=True):
        left, right = extents[index]
        lane = next((lane for lane, start in enumerate(starts) if right + BETWEEN_PX <= start), len(starts))
        starts[lane:] = [left, *starts[lane + 1 :]]
        found[index] = lane
    return found


def spread(wanted: Sequence[tuple[float, float]], top: float, bottom: float) -> list[float]:
    """Move labels apart up and down, each as little as need be.

    Args:
        wanted: the middle that each would like, and its height.
        top: none begins above.
        bottom: none ends below, where they all fit.

    Returns:
        The middle of each, in the order given.

    >>> spread([(50.0, 10.0), (52.0, 10.0)], 0.0, 60.0)
    [45.0, 55.0]
    """
    order = sorted(range(len(wanted)), key=lambda index: wanted[index][0])
    ends = bottom
    limits = [0.0] * len(wanted)
    for index in reversed(order):
        ends -= wanted[index][1]
        limits[index] = ends
    found = [0.0] * len(wanted)
    free = top
    for index in order:
        middle, height = wanted[index]
        free = max(free, min(middle - height / 2.0, limits[index]))
        found[index] = free + height / 2.0
        free += height
    return found
