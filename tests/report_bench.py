"""Runs the command line with an invented history behind it: `python report_bench.py WHICH report ...`.

The events are real ones in a real database; only the history database is stood in for, by an object of the
shape of its reader.
"""

import sys
from pathlib import Path

from invented_past import Invented
from quiet_fortnight import quiet_fortnight

import reefguard.cli.report
from reefguard.cli import main
from reefguard.records.history import DayTotals, Past
from reefguard.records.history_reader import HistoryReader, NoHistory


class Reader(HistoryReader):
    """Reads what WHICH says: `fortnight`, `nothing` or `broken`."""

    def __init__(self, directory: Path) -> None:
        super().__init__(directory)
        self._which = WHICH
        self._there = quiet_fortnight()[0] if WHICH == "fortnight" else None

    def past(self, from_s: float, until_s: float, most_spans: int) -> Past:
        if self._which == "broken":
            message = "history.db is not there: no guard has run with these settings"
            raise NoHistory(message)
        there = self._there or Invented(Past(from_s, until_s, 60.0, {}, ()), (), ())
        return there.past(from_s, until_s, most_spans)

    def days(self, first: str, last: str) -> tuple[DayTotals, ...]:
        return () if self._there is None else self._there.days(first, last)


if __name__ == "__main__":
    WHICH = sys.argv.pop(1)
    vars(reefguard.cli.report)["HistoryReader"] = Reader
    main()
