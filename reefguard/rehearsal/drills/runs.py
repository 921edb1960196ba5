"""Make the runs, on all cores."""

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass

from reefguard.rehearsal.drills.drill import Drill
from reefguard.rehearsal.drills.judgement import Judgement, Outcome, judge, judge_refused
from reefguard.rehearsal.drills.life import Stage, live
from reefguard.rehearsal.drills.record import Record
from reefguard.rehearsal.drills.staging import Row
from reefguard.rehearsal.drills.timeline import Episode, episodes
from reefguard.settings.model import Settings


@dataclass(frozen=True, slots=True)
class Result:
    """What became of a row.

    Attributes:
        name: of the row.
        drill: that was run.
        judgement: passed or not, and why not.
        record: of the run; `None` when there was nothing to run.
        remark: why there was nothing to run.
        episodes: what happened when.
        tank: how the tank deviated, in words.
        settings: what the guard ran on; `None` when they were refused.
    """

    name: str
    drill: Drill
    judgement: Judgement
    record: Record | None
    remark: str
    episodes: tuple[Episode, ...]
    tank: str
    settings: Settings | None


def run(row: Row) -> Result:
    """Make one run."""
    stage = row.stage
    if not isinstance(stage, Stage):
        judgement = (
            Judgement(Outcome.DOES_NOT_APPLY) if row.said is None else judge_refused(row.drill, row.said)
        )
        return Result(row.name, row.drill, judgement, None, stage, (), "", None)
    record = live(stage)
    judgement = judge(row.drill, record, stage.settings, said=row.said)
    happened = episodes(row.drill.events, row.drill.lasts_s)
    return Result(
        row.name, row.drill, judgement, record, "", happened, stage.deviation.in_words(), stage.settings
    )


def run_all(rows: Sequence[Row], cores: int | None = None) -> Iterator[tuple[int, Result]]:
    """Make all runs; yield each row's place and result as they are ready.

    Args:
        rows: in the order of the table.
        cores: how many to use; by default all.
    """
    cores = cores or len(os.sched_getaffinity(0))
    if cores == 1 or len(rows) < 2:
        for place, row in enumerate(rows):
            yield place, run(row)
        return
    with ProcessPoolExecutor(max_workers=cores) as pool:
        places = {pool.submit(run, row): place for place, row in _longest_first(rows)}
        try:
            for done in as_completed(places):
                yield places[done], done.result()
        except BaseException:
            # Ctrl-C, or whoever listened has gone: what has not begun never will.
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _longest_first(rows: Sequence[Row]) -> list[tuple[int, Row]]:
    """Return the rows with their places, the longest first: then no core waits for one at the end."""
    return sorted(enumerate(rows), key=lambda one: -one[1].drill.lasts_s)
