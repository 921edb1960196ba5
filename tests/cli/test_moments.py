"""Moments as people type them."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import click
import pytest

from reefguard.cli.moments import moment_s

VIENNA = ZoneInfo("Europe/Vienna")


@pytest.mark.parametrize(
    ("text", "last", "means"),
    [
        ("2031-07-14", False, "2031-07-13T22:00+00:00"),
        ("2031-07-14", True, "2031-07-14T22:00+00:00"),
        ("2031-10-26", True, "2031-10-26T23:00+00:00"),
        ("2031-07-14T20:45", False, "2031-07-14T18:45+00:00"),
        ("2031-07-14 20:45:30", True, "2031-07-14T18:45:30+00:00"),
        ("2031-07-14T20:45+05:00", False, "2031-07-14T15:45+00:00"),
    ],
)
def test_a_moment_is_local_unless_it_says_otherwise(text: str, last: bool, means: str) -> None:
    assert datetime.fromtimestamp(moment_s(text, VIENNA, last=last), UTC) == datetime.fromisoformat(means)


@pytest.mark.parametrize("text", ["", "yesterday", "2031-02-30", "2031-7-1", "9999-12-31", "20:45"])
def test_what_is_no_moment_is_told_with_what_would_be(text: str) -> None:
    with pytest.raises(click.BadParameter, match="is no time; mend: write it like 2031-07-14, "):
        moment_s(text, VIENNA, last=True)
