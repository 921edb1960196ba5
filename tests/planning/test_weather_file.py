"""Weather files: what pvlib reads from its own, this reads; what is wrong is told with its line."""

import warnings
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import psychrolib
import pvlib
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from planned_tanks import reef

from reefguard.planning.make import make_plan
from reefguard.planning.model import Advice
from reefguard.planning.weather_file import read_weather
from reefguard.settings.plan_model import WeatherFilePlan
from reefguard.settings.problems import Problem
from reefguard.thermal.weather import HourlyWeather, hottest_day

psychrolib.SetUnitSystem(psychrolib.SI)

PVLIB = Path(pvlib.__file__).parent / "data"
GREENSBORO, MIAMI, SAND_POINT = PVLIB / "723170TYA.CSV", PVLIB / "12839.tm2", PVLIB / "703165TY.csv"
MIDNIGHT = datetime(2026, 7, 14)  # noqa: DTZ001  # local time, as in a table without offsets


def accepted(content: bytes, *pressure_pa: float) -> HourlyWeather:
    weather = read_weather(content, *pressure_pa)
    assert isinstance(weather, HourlyWeather), weather
    return weather


def refused(content: bytes) -> tuple[Problem, ...]:
    problems = read_weather(content)
    assert isinstance(problems, tuple)
    assert problems
    return problems


def table(readings: dict[float, str], heading: str = "time,temperature °C,humidity %") -> bytes:
    """Return a table of readings by their hours after midnight."""
    lines = (f"{(MIDNIGHT + timedelta(hours=hour)).isoformat()},{rest}" for hour, rest in readings.items())
    return "\n".join([heading, *lines, ""]).encode()


def hourly(
    hours: int, rest: Callable[[int], str] = lambda hour: f"{20 + hour % 24}.5,50"
) -> dict[float, str]:
    return {float(hour): rest(hour) for hour in range(hours)}


def tmy3(path: Path) -> Any:
    with warnings.catch_warnings():
        # pandas' notices about pvlib's own code.
        warnings.simplefilter("ignore", (FutureWarning, DeprecationWarning))
        frame, _ = pvlib.iotools.read_tmy3(path, coerce_year=1990, map_variables=True)
    return frame


class TestTypicalYears:
    @pytest.mark.parametrize("path", [GREENSBORO, SAND_POINT], ids=["Greensboro", "Sand Point"])
    def test_each_hour_of_a_tmy3_file_is_that_of_pvlib(self, path: Path) -> None:
        weather, frame = accepted(path.read_bytes()), tmy3(path)
        # Hour 24 of the last day is the midnight after the year; the midnight before is held from 01:00.
        assert [air.air_c for air in weather.hours[1:]] == frame["temp_air"].tolist()[:-1]
        assert weather.hours[0] == weather.hours[1]
        assert (weather.days, weather.first_day) == (365, date(2001, 1, 1))
        columns = (frame[name].tolist() for name in ("temp_air", "temp_dew", "pressure"))
        for air, (air_c, dew_c, mbar) in zip(weather.hours[1:], zip(*columns, strict=True), strict=False):
            expected = psychrolib.GetHumRatioFromTDewPoint(min(dew_c, air_c), 100.0 * mbar)
            assert air.humidity_ratio == pytest.approx(expected, rel=1e-3)

    def test_each_hour_of_a_tmy2_file_is_that_of_pvlib(self) -> None:
        weather = accepted(MIAMI.read_bytes())
        frame, _ = pvlib.iotools.read_tmy2(MIAMI)
        expected = (frame["DryBulb"] / 10).tolist()[:-1]
        assert [air.air_c for air in weather.hours[1:]] == pytest.approx(expected)
        columns = (frame[name].tolist() for name in ("DewPoint", "Pressure"))
        for air, (dew, mbar) in zip(weather.hours[1:], zip(*columns, strict=True), strict=False):
            ratio = psychrolib.GetHumRatioFromTDewPoint(min(dew / 10, air.air_c), 100.0 * mbar)
            assert air.humidity_ratio == pytest.approx(ratio, rel=1e-3)

    def test_the_hottest_day_is_that_of_pvlib(self) -> None:
        days = tmy3(GREENSBORO)["temp_air"].to_numpy()[:8760].reshape(365, 24).mean(axis=1)
        # pvlib's day begins at 01:00, which moves no mean far enough here.
        assert hottest_day(accepted(GREENSBORO.read_bytes())) == days.argmax()

    @pytest.mark.parametrize(
        ("path", "advice"),
        [(GREENSBORO, Advice.CHILLER), (SAND_POINT, Advice.NEITHER)],
        ids=["Greensboro", "Sand Point"],
    )
    def test_a_plan_is_made_for_a_day_in_summer(self, path: Path, advice: Advice) -> None:
        """The warmest hour of Sand Point, Alaska, has 19.4 °C: nothing there asks for cooling."""
        weather = accepted(path.read_bytes())
        plan = make_plan(reef(weather=WeatherFilePlan(path.name)), weather)
        assert plan.verdict.advice is advice
        day = 24 * hottest_day(weather)
        assert plan.weather.hottest_c == max(air.air_c for air in weather.hours[day : day + 24])
        assert plan.weather.day.split(",")[0].split()[1] in {"June", "July", "August"}
        assert plan.weather.series_hours == 8760

    def test_the_dew_point_is_taken_where_the_humidity_disagrees(self) -> None:
        """Row 744 of Greensboro: 7.5 °C, dew point 0.2 °C, 93 %, 33 points more than the dew point has."""
        air = accepted(GREENSBORO.read_bytes()).hours[744]
        assert air.air_c == 7.5
        share = psychrolib.GetRelHumFromHumRatio(7.5, air.humidity_ratio, 98_500.0)
        assert share == pytest.approx(0.60, abs=0.02)

    def test_a_missing_value_of_a_tmy3_file_is_bridged(self) -> None:
        lines = GREENSBORO.read_text().splitlines()
        cells = lines[5000].split(",")
        at = lines[1].split(",").index("Dry-bulb (C)")
        cells[at] = "-9900"
        lines[5000] = ",".join(cells)
        weather, whole = accepted("\n".join(lines).encode()), accepted(GREENSBORO.read_bytes())
        hour = 5000 - 2 + 1
        assert weather.hours[hour].air_c == pytest.approx(
            (whole.hours[hour - 1].air_c + whole.hours[hour + 1].air_c) / 2
        )
        assert weather.hours[hour + 1 :] == whole.hours[hour + 1 :]

    def test_a_summer_cut_from_a_tmy3_file_is_dated(self) -> None:
        lines = GREENSBORO.read_text().splitlines()
        july = [line for line in lines[2:] if line.startswith("07/")]
        weather = accepted("\n".join(lines[:2] + july).encode())
        assert (weather.first_day, weather.days) == (date(2001, 7, 1), 31)

    def test_a_stretch_may_pass_new_year(self) -> None:
        """Where the summer is in January."""
        lines = GREENSBORO.read_text().splitlines()
        december = [line for line in lines[2:] if line.startswith("12/")]
        january = [line for line in lines[2:] if line.startswith("01/")]
        weather = accepted("\n".join(lines[:2] + december + january).encode())
        assert (weather.first_day, weather.days) == (date(2001, 12, 1), 62)

    @pytest.mark.parametrize(
        ("old", "new", "key", "read"),
        [
            ("01/02/1988,15:00", "13/02/1988,15:00", "month", "13"),
            ("01/02/1988,15:00", "01/xx/1988,15:00", "date", "01/xx/1988"),
            ("01/02/1988,15:00", "01/02/1988,25:00", "time", "25"),
            ("01/02/1988,15:00", "01/02/1988,noon", "time", "noon"),
            ("01/02/1988,15:00", "02/30/1988,15:00", "day", "30"),
        ],
    )
    def test_a_wrong_date_of_a_tmy3_file_is_told(self, old: str, new: str, key: str, read: str) -> None:
        problem, *_ = refused(GREENSBORO.read_text().replace(old, new).encode())
        assert (problem.place.line, problem.key, problem.read) == (41, key, read)

    def test_a_tmy3_file_without_its_dew_points_is_told(self) -> None:
        (problem,) = refused(GREENSBORO.read_text().replace("Dew-point (C)", "Dew").encode())
        assert (problem.place.line, problem.key) == (2, "Dew-point (C)")

    def test_a_torn_line_of_a_tmy2_file_is_told(self) -> None:
        lines = MIAMI.read_text().splitlines()
        lines[100] = lines[100][:70]
        (problem,) = refused("\n".join(lines).encode())
        assert problem.place.line == 101
        assert "this one 70" in problem.why


def epw(rows: list[str], steps: int = 1) -> bytes:
    """Return an EPW file by the data dictionary in EnergyPlus's Auxiliary Programs; the town is made up."""
    return "\n".join(
        [
            "LOCATION,Sandbank,-,XXX,made up,000000,10.00,20.00,1.0,5.0",
            "DESIGN CONDITIONS,0",
            "TYPICAL/EXTREME PERIODS,0",
            "GROUND TEMPERATURES,0",
            "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
            "COMMENTS 1,",
            "COMMENTS 2,",
            f"DATA PERIODS,1,{steps},Data,Sunday, 7/ 1, 7/ 2",
            *rows,
            "",
        ]
    ).encode()


def epw_row(
    day: int, hour: int, minute: int = 60, *, month: int = 7, air: str = "25.0,18.0,65,101000"
) -> str:
    rest = ",".join(["0"] * 25)
    return f"1999,{month},{day},{hour},{minute},?9?9,{air},{rest}"


def epw_hours(days: int = 2) -> list[str]:
    return [
        epw_row(day, hour, air=f"{20 + hour / 2},{15 + hour / 10:.1f},60,{100_000 + hour}")
        for day in range(1, days + 1)
        for hour in range(1, 25)
    ]


class TestEpw:
    def test_each_hour_is_that_of_pvlib(self, tmp_path: Path) -> None:
        file = tmp_path / "sandbank.epw"
        file.write_bytes(epw(epw_hours()))
        frame, _ = pvlib.iotools.read_epw(file)
        weather = accepted(file.read_bytes())
        assert [air.air_c for air in weather.hours[1:]] == frame["temp_air"].tolist()[:-1]
        columns = (frame[name].tolist() for name in ("temp_dew", "atmospheric_pressure"))
        for air, (dew_c, pressure_pa) in zip(weather.hours[1:], zip(*columns, strict=True), strict=False):
            expected = psychrolib.GetHumRatioFromTDewPoint(dew_c, pressure_pa)
            assert air.humidity_ratio == pytest.approx(expected, rel=1e-4)
        assert (weather.first_day, weather.days) == (date(2001, 7, 1), 2)

    def test_without_a_dew_point_the_humidity_is_taken_and_without_a_pressure_that_of_the_place(self) -> None:
        rows = [epw_row(1, hour, air="25.0,99.9,65,999999") for hour in range(1, 25)]
        weather = accepted(epw(rows), 90_000.0)
        expected = psychrolib.GetHumRatioFromRelHum(25.0, 0.65, 90_000.0)
        assert weather.hours[12].humidity_ratio == pytest.approx(expected, rel=1e-4)

    @pytest.mark.parametrize("air", ["99.9,18.0,65,101000", "25.0,99.9,999,101000", ",18.0,65,101000"])
    def test_missing_hours_are_bridged_up_to_three_and_told_beyond(self, air: str) -> None:
        """A gap of 3 h is two hours without a reading between two with one."""
        rows = epw_hours()
        rows[10:12] = [epw_row(1, hour, air=air) for hour in (11, 12)]
        weather, whole = accepted(epw(rows)), accepted(epw(epw_hours()))
        assert [one.air_c for one in weather.hours] == pytest.approx([one.air_c for one in whole.hours])
        rows[12] = epw_row(1, 13, air=air)
        (problem,) = refused(epw(rows))
        assert (problem.place.line, problem.key) == (8 + 14, "time")
        assert "more than 3 h" in problem.why
        assert "(line 18)" in problem.why

    def test_air_is_never_damper_than_saturated(self) -> None:
        """A dew point above the air, as rounding and seams between months leave it."""
        rows = [epw_row(1, hour, air="25.0,27.0,100,101325") for hour in range(1, 25)]
        expected = psychrolib.GetSatHumRatio(25.0, 101_325.0)
        assert accepted(epw(rows)).hours[12].humidity_ratio == pytest.approx(expected, rel=1e-4)

    @pytest.mark.parametrize("last", [60, 0])
    def test_four_records_an_hour_are_dated_by_their_minutes(self, last: int) -> None:
        rows = [
            epw_row(1, hour, minute % 60 or last, air=f"{hour - 1 + minute / 60},0.0,65,101000")
            for hour in range(1, 25)
            for minute in (15, 30, 45, 60)
        ]
        weather = accepted(epw(rows, steps=4))
        assert [air.air_c for air in weather.hours[1:]] == pytest.approx(
            [float(hour) for hour in range(1, 24)]
        )

    def test_a_leap_day_is_left_out(self) -> None:
        days = ((2, 28), (2, 29), (3, 1))
        rows = [epw_row(day, hour, month=month) for month, day in days for hour in range(1, 25)]
        weather = accepted(epw(rows))
        assert (weather.first_day, weather.days) == (date(2001, 2, 28), 2)

    def test_a_file_without_hours_is_told(self) -> None:
        (problem,) = refused(b"LOCATION,Sandbank,-,XXX,made up,000000,10.00,20.00,1.0,5.0\n")
        assert "DATA PERIODS" in problem.why

    def test_a_count_of_records_that_is_none_is_told(self) -> None:
        (problem,) = refused(epw(epw_hours()).replace(b"PERIODS,1,1,", b"PERIODS,1,x,"))
        assert (problem.place.line, problem.read) == (8, "x")

    def test_a_short_line_is_told(self) -> None:
        rows = epw_hours()
        rows[5] = "1999,7,1,6"
        (problem,) = refused(epw(rows))
        assert problem.place.line == 8 + 6
        assert "it has 4 cells" in problem.why


class TestOwnTable:
    def test_what_was_measured_at_the_hours_is_the_series(self) -> None:
        weather = accepted(table(hourly(48)))
        assert [air.air_c for air in weather.hours] == [20.5 + hour % 24 for hour in range(48)]
        expected = psychrolib.GetHumRatioFromRelHum(25.5, 0.5, 101_325.0)
        assert weather.hours[5].humidity_ratio == pytest.approx(expected, rel=1e-4)
        assert weather.first_day == MIDNIGHT.date()

    def test_the_pressure_of_the_place_counts(self) -> None:
        expected = psychrolib.GetHumRatioFromRelHum(25.5, 0.5, 84_556.0)
        weather = accepted(table(hourly(24)), 84_556.0)
        assert weather.hours[5].humidity_ratio == pytest.approx(expected, rel=1e-4)

    @pytest.mark.parametrize(
        "heading",
        [
            "Time,Temperature [°C],Humidity (%)",
            "date_time,temp_C,rh_%",
            "timestamp,outdoor temperature °C,relative humidity %",
            'time,"Temperature, °C","Humidity, %"',
            "Local Time,Air Temp (deg C),RH percent",
            "when,dry-bulb °C,RelHum %",
            "# of the balcony, north side\n\ntime,temperature \u2103,humidity %",
        ],
    )
    def test_headings_are_read_tolerantly(self, heading: str) -> None:
        assert accepted(table(hourly(24), heading)) == accepted(table(hourly(24)))

    def test_columns_stand_in_any_order_and_others_are_passed_over(self) -> None:
        plain = table(hourly(24)).decode().splitlines()
        turned = [",".join([*reversed(line.split(",")), "wind"]) for line in plain]
        assert accepted("\n".join(turned).encode()) == accepted(table(hourly(24)))

    def test_semicolons_decimal_commas_a_byte_order_mark_and_windows_line_ends(self) -> None:
        plain = table(hourly(24)).decode()
        written = "\ufeff" + plain.replace(",", ";").replace(".5", ",5").replace("\n", "\r\n")
        assert accepted(written.encode()) == accepted(plain.encode())

    def test_carriage_returns_alone_end_lines(self) -> None:
        assert accepted(table(hourly(24)).replace(b"\n", b"\r")) == accepted(table(hourly(24)))

    def test_a_degree_sign_as_windows_writes_it(self) -> None:
        assert accepted(table(hourly(24)).decode().encode("cp1252")) == accepted(table(hourly(24)))

    def test_fahrenheit(self) -> None:
        """NIST SP 811 (2008), appendix B.8: 95 °F are 35 °C."""
        heading = "time,temperature °F,humidity %"
        weather = accepted(table(hourly(24, lambda _: "95,40"), heading))
        assert weather.hours[7].air_c == pytest.approx(35.0)

    @pytest.mark.parametrize("step", [0.25, 0.5, 1.0, 1.5, 2.0, 3.0])
    def test_finer_and_coarser_readings_are_resampled_to_hours(self, step: float) -> None:
        """A ramp of one degree an hour stays one."""
        readings = {index * step: f"{index * step},50" for index in range(int(24 / step) + 1)}
        weather = accepted(table(readings))
        assert [air.air_c for air in weather.hours] == pytest.approx([float(hour) for hour in range(24)])

    def test_three_hours_are_bridged_and_more_is_told(self) -> None:
        readings = hourly(24)
        del readings[11.0], readings[12.0]
        assert accepted(table(readings)).hours[12].air_c == pytest.approx(32.5)
        del readings[13.0]
        (problem,) = refused(table(readings))
        assert (problem.place.line, problem.read) == (13, "2026-07-14 14:00")
        assert "2026-07-14 10:00 (line 12)" in problem.why

    def test_a_cell_without_a_measurement_is_bridged(self) -> None:
        readings = hourly(24)
        readings[11.0], readings[12.0] = ",50", "31.5,NaN"
        assert accepted(table(readings)).hours[12].air_c == pytest.approx(32.5)

    def test_a_day_that_is_not_whole_is_left_out(self) -> None:
        """From 04:00 on the 14th to 19:00 on the 17th: two whole days."""
        readings = {hour: rest for hour, rest in hourly(92).items() if hour >= 4.0}
        weather = accepted(table(readings))
        assert (weather.first_day, weather.days) == (date(2026, 7, 15), 2)
        assert weather.hours[0].air_c == 20.5

    def test_the_first_and_the_last_reading_hold_up_to_three_hours(self) -> None:
        readings = {hour: rest for hour, rest in hourly(21).items() if hour >= 3.0}
        weather = accepted(table(readings))
        assert [weather.hours[hour].air_c for hour in (0, 3, 20, 23)] == [23.5, 23.5, 40.5, 40.5]
        del readings[20.0]
        assert "no whole day" in refused(table(readings))[0].why

    def test_with_offsets_a_day_does_not_jump_when_the_clocks_change(self) -> None:
        """25 October 2026, 03:00+02:00 is 02:00+01:00 in much of Europe."""
        start = datetime.fromisoformat("2026-10-25T00:00+02:00")
        lines = ["time,temperature °C,humidity %"]
        for hour in range(24):
            zone = "+02:00" if hour < 3 else "+01:00"
            when = (start + timedelta(hours=hour)).astimezone(
                datetime.fromisoformat(f"2026-01-01T00{zone}").tzinfo
            )
            lines.append(f"{when.isoformat()},{hour},50")
        weather = accepted("\n".join(lines).encode())
        assert [air.air_c for air in weather.hours] == [float(hour) for hour in range(24)]

    def test_offsets_are_for_all_or_none(self) -> None:
        content = table(hourly(24)).replace(b"T10:00:00", b"T10:00:00+02:00")
        (problem,) = refused(content)
        assert (problem.place.line, problem.key) == (12, "time")
        assert "some have none" in problem.why

    def test_a_time_that_does_not_go_on_is_told(self) -> None:
        (problem,) = refused(table(hourly(24)).replace(b"T10:00", b"T09:00"))
        assert problem.place.line == 12
        assert "2026-07-14 09:00 (line 11)" in problem.why

    @pytest.mark.parametrize(
        ("rest", "key", "read", "why"),
        [
            ("85,50", "temperature °C", "85", "above 60 °C: no air outdoors has been so hot"),
            ("-61,50", "temperature °C", "-61", "below -60 °C: colder than any place"),
            ("30,140", "humidity %", "140", "above 110 %: no air holds so much vapour"),
            ("30,-1", "humidity %", "-1", "below 0 %: no air is so dry"),
            ("warm,50", "temperature °C", "warm", "not a plain number"),
            ("1_0,50", "temperature °C", "1_0", "not a plain number"),
            ("inf,50", "temperature °C", "inf", "not a plain number"),
            ("30", "humidity %", "", "the line ends before it: it has 2 cells"),
        ],
    )
    def test_what_cannot_be_is_told_with_its_line(self, rest: str, key: str, read: str, why: str) -> None:
        readings = hourly(24)
        readings[10.0] = rest
        (problem,) = refused(table(readings))
        assert (problem.place.line, problem.key, problem.read) == (12, key, read)
        assert problem.why.startswith(why)

    def test_the_column_of_a_problem_is_where_its_cell_stands(self) -> None:
        readings = hourly(24)
        readings[10.0] = "30,140"
        (problem,) = refused(table(readings))
        assert problem.place.column == len("2026-07-14T10:00:00,30,") + 1

    def test_degrees_fahrenheit_under_the_wrong_heading_are_guessed(self) -> None:
        problem, *_ = refused(table(hourly(24, lambda _: "95,40")))
        assert "temperature °F" in problem.mend

    def test_lines_that_cannot_be_taken_are_no_gap_besides(self) -> None:
        readings = hourly(24)
        readings |= dict.fromkeys((9.0, 10.0, 11.0, 12.0), "30,140")
        assert [problem.place.line for problem in refused(table(readings))] == [11, 12, 13, 14]

    @pytest.mark.parametrize(
        "time", ["9999-12-31T23:59", "0001-01-01T00:00", "14.7.2026 10:00", "10:00", "T"]
    )
    def test_a_time_that_is_none_is_told(self, time: str) -> None:
        content = table(hourly(24)).decode().replace("2026-07-14T10:00:00", time)
        (problem,) = refused(content.encode())
        assert (problem.place.line, problem.key, problem.read) == (12, "time", time)
        assert "ISO 8601" in problem.why

    def test_at_the_bounds_it_is_taken(self) -> None:
        readings = hourly(24)
        readings |= {3.0: "60,0", 4.0: "-60,110"}
        hours = accepted(table(readings)).hours
        assert (hours[3].air_c, hours[3].humidity_ratio) == (60.0, 0.0)
        assert hours[4].humidity_ratio == pytest.approx(psychrolib.GetSatHumRatio(-60.0, 101_325.0), rel=1e-4)

    def test_of_many_problems_the_first_twenty_are_told_and_that_it_stopped(self) -> None:
        problems = refused(table(hourly(48, lambda _: "30,140")))
        assert [problem.place.line for problem in problems[:20]] == list(range(2, 22))
        assert "the rest of the file was not read" in problems[20].why
        assert len(problems) == 21

    @pytest.mark.parametrize(
        ("heading", "key", "why"),
        [
            ("time,temperature,humidity %", "temperature", "no unit"),
            ("time,temperature K,humidity %", "temperature", "no unit"),
            ("time,temperature °C,humidity", "humidity", "no unit"),
            ("time,temperature °C,pressure hPa", "humidity", "names no column"),
            ("zeit,temperature °C,humidity %", "time", "names no column"),
            ("time,temperature °C,humidity %,dry bulb °C", "temperature", "names 2 columns"),
        ],
    )
    def test_a_heading_that_leaves_doubt_is_told_once(self, heading: str, key: str, why: str) -> None:
        (problem,) = refused(table(hourly(24), heading))
        assert (problem.place.line, problem.key) == (1, key)
        assert why in problem.why


class TestOtherFiles:
    @pytest.mark.parametrize(
        ("content", "why"),
        [
            (b"", "empty"),
            (b" \n\n", "empty"),
            (b"\xef\xbb\xbf", "no kind of weather file"),
            (b"plan:\n  volume: 340 L\n", "no kind of weather file"),
            (b"\x89PNG\r\n\x1a\n\0\0\0", "not a text"),
            ("time,temperature °C,humidity %".encode("utf-16"), "UTF-16"),
            (b"x" * 10_001, "no line of weather is so long"),
            (b"\n" * 20_000_001, "20 MB"),
        ],
    )
    def test_one_clear_problem(self, content: bytes, why: str) -> None:
        (problem,) = refused(content)
        assert why in problem.why
        assert problem.mend

    @given(st.binary(max_size=400))
    @example(b"\r")
    @example(b'time,temp C,rh %\n"')
    def test_any_bytes_are_answered(self, content: bytes) -> None:
        refused(content)

    @given(st.data())
    def test_a_file_that_was_tampered_with_is_answered(self, data: st.DataObject) -> None:
        head = b"".join(GREENSBORO.read_bytes().splitlines(keepends=True)[:50])
        two = b"".join(MIAMI.read_bytes().splitlines(keepends=True)[:49])
        content = data.draw(st.sampled_from([table(hourly(30)), epw(epw_hours()), head, two]))
        for _ in range(data.draw(st.integers(1, 4))):
            at = data.draw(st.integers(0, len(content)))
            cut = data.draw(st.integers(0, 12))
            put = data.draw(
                st.one_of(st.binary(max_size=6), st.text('0123456789-+.,;:"/TZ', max_size=6).map(str.encode))
            )
            content = content[:at] + put + content[at + cut :]
        answer = read_weather(content)
        if isinstance(answer, HourlyWeather):
            assert answer.days >= 1
        else:
            assert answer
            assert all(problem.mend for problem in answer)
