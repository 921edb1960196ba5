"""What is kept of the tick's memory, and what comes back."""

from dataclasses import replace
from pathlib import Path

import pytest
from builders import bench_settings, both, inputs, permitting
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.control.counters import Counter
from reefguard.control.step import Memory, at_start, output_names, step
from reefguard.guard.recall import recalled, to_keep
from reefguard.records import guard_memory
from reefguard.records.guard_memory import Kept, KeptOutput
from reefguard.settings.model import Staging
from reefguard.vocabulary import Mode

BOOT = "9b2c6b1e-0000-4000-8000-000000000001"
SETTINGS = bench_settings()


def _lived(waters_c: list[float], begin_s: float = 1_000.0) -> tuple[Memory, float]:
    """Let a guard live through some waters, a tick every 5 s; return its memory and the time."""
    memory = at_start(SETTINGS, begin_s)
    now_s = begin_s
    for water_c in waters_c:
        for _ in range(20):
            now_s += 5.0
            memory, _ = step(memory, inputs(now_s, both(water_c, now_s), cutoff=permitting(now_s)), SETTINGS)
    return memory, now_s


def _kept(memory: Memory, now_s: float) -> Kept:
    return to_keep(memory, SETTINGS, now_s=now_s, boot_id=BOOT, wall="2031-07-14T20:45:00+02:00")


@given(st.lists(st.sampled_from([26.0, 26.5, 26.75, 27.25]), min_size=1, max_size=8))
@settings(deadline=None, max_examples=40)
def test_on_disk_and_back_nothing_is_lost(
    tmp_path_factory: pytest.TempPathFactory, waters_c: list[float]
) -> None:
    memory, now_s = _lived(waters_c)
    kept = _kept(memory, now_s)
    directory = tmp_path_factory.getbasetemp()
    guard_memory.save(directory, kept)
    assert guard_memory.load(directory) == kept
    assert {name: one.on for name, one in kept.outputs.items()} == dict(
        zip(output_names(SETTINGS), [counter.on for counter in memory.counters], strict=True)
    )

    back = recalled(kept, SETTINGS, now_s=now_s + 3.0, boot_id=BOOT)
    for before, after in zip(memory.counters, back.counters, strict=True):
        assert not after.on
        assert after.elapsed_active_s(now_s + 3.0) == before.elapsed_active_s(now_s)
        assert after.changes == before.changes
    assert back.chiller is not None
    assert back.chiller.compressor.since_s == now_s + 3.0
    assert not back.chiller.calling
    if memory.mode.mode is Mode.AUTOMATIC:
        assert back.mode == memory.mode
        assert back.fans is not None
        assert memory.fans is not None
        assert back.fans.levels == memory.fans.levels
        assert back.fans.calling == memory.fans.calling


def test_within_a_boot_the_fans_go_on_as_they_were_and_the_chiller_does_not() -> None:
    memory, now_s = _lived([27.25, 27.25, 27.25, 27.25])
    assert [counter.on for counter in memory.counters] == [True, True, True]
    back = recalled(_kept(memory, now_s), SETTINGS, now_s=now_s + 2.0, boot_id=BOOT)
    _, decision = step(back, inputs(now_s + 2.0, {}, cutoff=permitting(now_s + 2.0)), SETTINGS)
    assert [command.on for command in decision.commands] == [True, True, False]
    assert decision.mode is Mode.AUTOMATIC


@pytest.mark.parametrize("change", ["boot", "future", "schedule"])
def test_of_another_boot_the_future_or_schedule_mode_only_the_counters_come_back(change: str) -> None:
    memory, now_s = _lived([27.25])
    kept = _kept(memory, now_s)
    boot_id, later_s = BOOT, now_s + 2.0
    if change == "boot":
        boot_id = "another"
    elif change == "future":
        later_s = now_s - 1.0
    else:
        kept = replace(kept, mode=Mode.SCHEDULE)
    back = recalled(kept, SETTINGS, now_s=later_s, boot_id=boot_id)
    fresh = at_start(SETTINGS, later_s)
    assert back == fresh._replace(counters=back.counters)
    assert [counter.changes for counter in back.counters] == [counter.changes for counter in memory.counters]


def test_outputs_that_are_new_begin_at_nothing_and_those_that_are_gone_are_forgotten() -> None:
    memory, now_s = _lived([27.25])
    kept = _kept(memory, now_s)
    outputs = {"chiller": KeptOutput(False, 0.0, 77.0, 4), "an old fan": KeptOutput(True, 1.0, 5.0, 1)}
    back = recalled(replace(kept, outputs=outputs), SETTINGS, now_s=now_s, boot_id=BOOT)
    assert [(counter.before_s, counter.changes) for counter in back.counters] == [
        (0.0, 0),
        (0.0, 0),
        (77.0, 4),
    ]
    assert back.fans is not None
    assert back.fans.levels == (0.0, 0.0)


def test_without_a_memory_it_begins_afresh(tmp_path: Path) -> None:
    assert guard_memory.load(tmp_path) is None
    assert recalled(None, SETTINGS, now_s=3.0, boot_id=BOOT) == at_start(SETTINGS, 3.0)


def test_with_lead_and_lag_the_fan_that_ran_goes_on_and_the_other_goes_on_resting() -> None:
    fans = SETTINGS.fans
    assert fans is not None
    lead_lag = replace(SETTINGS, fans=replace(fans, staging=Staging.LEAD_LAG))
    memory, now_s = _lived([26.5])
    assert memory.fans is not None
    # fan2 leads, and runs alone; the water stands between its cut points.
    resting, running = Counter(False, now_s, 90.0, 2), Counter(True, now_s, 50.0, 3)
    counters = (resting, running, memory.counters[2])
    led = memory.fans._replace(order=(1, 0), calling=(True, False), levels=(0.0, 1.0))
    kept = to_keep(
        memory._replace(counters=counters, fans=led), lead_lag, now_s=now_s, boot_id=BOOT, wall="then"
    )
    back = recalled(kept, lead_lag, now_s=now_s + 2.0, boot_id=BOOT)
    assert back.fans is not None
    assert (back.fans.order, back.fans.calling, back.fans.levels) == ((1, 0), (True, False), (0.0, 1.0))
