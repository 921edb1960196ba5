"""The wall clock jumps, is not trusted, changes its offset: only the schedule may notice."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from bench_rig import Rig

from reefguard.rehearsal.bench import CHILLER

NOON = datetime(2031, 7, 14, 12, 0, tzinfo=UTC)
EVENING = NOON.replace(hour=19, minute=50)


def _fans(rig: Rig) -> set[str]:
    return {rig.pins()["fan1"], rig.pins()["fan2"]}


def test_automatic_control_does_not_notice_the_wall_clock(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.wall_clock(NOON)
        rig.chilling()
        for wall in (
            NOON - timedelta(hours=1),
            NOON + timedelta(days=180),
            datetime(1970, 1, 1, tzinfo=UTC),
            datetime(9999, 12, 31, 23, 59, tzinfo=UTC),
        ):
            rig.wall_clock(wall)
            rig.always(lambda: rig.mode() == "automatic" and rig.chiller_has_power(), 30.0, "nothing changes")
        changes = [output["changes"] for output in rig.status()["outputs"].values()]
        assert changes == [1, 1, 1]

        # A rest is a rest, whatever the clock on the wall says.
        rig.water(26.5)
        rig.until_status(lambda: rig.pin(CHILLER) == "0", "the chiller stops")
        stopped_s = rig.output("chiller")["since_s"]
        rig.water(27.5)
        rig.wall_clock(NOON + timedelta(days=3))
        rig.until_status(rig.chiller_has_power, "the chiller runs again")
        assert rig.output("chiller")["since_s"] - stopped_s >= 180.0 - 0.01
        assert rig.end("guard") == 0


def test_without_probes_the_fans_follow_the_hours_and_their_after_run_the_boot_clock(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.settings(("after_run: 60 min", "after_run: 6 min"))
        rig.display.show_nothing()
        rig.sump.show_nothing()
        rig.wall_clock(NOON)
        rig.guard()
        rig.until_status(lambda: _fans(rig) == {"1"}, "the fans run with the lights")
        assert rig.mode() == "schedule"
        assert "the lights are on" in rig.output("fan1")["why"]

        rig.wall_clock(NOON.replace(hour=20))
        rig.until(lambda: "went off lately" in rig.output("fan1")["why"], "the lights are off")
        assert _fans(rig) == {"1"}
        # A jump of days in the dark ends no after-run: that is measured on the boot clock.
        rig.wall_clock(NOON.replace(hour=22) + timedelta(days=2))
        rig.always(lambda: _fans(rig) == {"1"}, 150.0, "the after-run goes on")
        rig.until_status(lambda: _fans(rig) == {"0"}, "the after-run is over")
        assert "the lights are off" in rig.output("fan1")["why"]

        rig.wall_clock(NOON.replace(hour=10) + timedelta(days=3))
        rig.until(lambda: _fans(rig) == {"1"}, "the lights are on again")


def test_with_a_clock_that_is_not_trusted_the_fans_run_unless_the_settings_say_rest(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.display.show_nothing()
        rig.sump.show_nothing()
        rig.wall_clock(NOON.replace(hour=3), trusted=False)
        rig.guard()
        rig.until_status(lambda: _fans(rig) == {"1"}, "nobody knows the time, so the fans run")
        assert "nobody knows whether the lights are on" in rig.output("fan1")["why"]
        assert rig.findings()["time unknown"]["severity"] == "warning"
        assert rig.status()["clock_trusted"] is False
        assert rig.end("guard") == 0

        rig.settings(("after_run: 60 min", "after_run: 0 min\n  when_time_unknown: fans rest"))
        rig.guard()
        rig.until(lambda: rig.output("fan1").get("why", "").endswith("rests"), "the settings say: rest")
        assert _fans(rig) == {"0"}

        # The clock becomes right, at night: by the hours the lights are off.
        rig.wall_clock(NOON.replace(hour=3))
        rig.until(lambda: "the lights are off" in rig.output("fan1")["why"], "the hours count again")
        # A clock that cannot even be read is not trusted either.
        (rig.bench.directory / "clock.json").write_text("{", encoding="utf-8")
        rig.until(lambda: rig.output("fan1")["why"].endswith("rests"), "nobody knows the time")
