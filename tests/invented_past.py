"""A heat wave in a tank that nobody owns: lived by the real physics, kept as the history would keep it."""

from datetime import date, datetime, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from planned_tanks import reef

from reefguard.commissioning.record import Record
from reefguard.lookback.stretch import day_of
from reefguard.planning.parts import plant_of
from reefguard.records.events import Event
from reefguard.records.history import DayTotals, Interval, Past, Series, Span
from reefguard.settings.model import (
    Chiller,
    CutPoints,
    Fan,
    FanStage,
    Lights,
    RoomAirSource,
    SafeBand,
    Settings,
    WaterProbe,
    Wiring,
)
from reefguard.settings.plan_model import ChillerPlan, Price, TankPlan
from reefguard.thermal.balance import TankBalance
from reefguard.thermal.moist_air import relative_humidity
from reefguard.thermal.state import Drive
from reefguard.thermal.weather import DesignDay

ZONE = ZoneInfo("Europe/Rome")
DISPLAY, SUMP = Series("display", "water"), Series("sump", "water")
ROOM, HUMIDITY = Series("room", "room"), Series("room", "humidity")


def settings_of(plan: TankPlan | None = None) -> Settings:
    """Return settings with two probes, two fans and a chiller."""
    return Settings(
        tank="the reef by the stairs",
        safe_band=SafeBand(24.0, 27.0),
        water_probes=(WaterProbe("display", "28-000000000101"), WaterProbe("sump", "28-000000000102")),
        lights=Lights(36_000, 72_000),
        fans=FanStage(CutPoints(26.0, 25.6), (Fan("fan1", Wiring(17)), Fan("fan2", Wiring(27)))),
        chiller=Chiller(Wiring(22), CutPoints(26.5, 26.0)),
        room_air=RoomAirSource(
            "28-000000000103", "/sys/bus/iio/devices/iio:device0/in_humidityrelative_input"
        ),
        plan=plan,
    )


def planned() -> TankPlan:
    """Return the tank's plan, with a price."""
    chiller = ChillerPlan(capacity_w=220.0)
    return reef(chiller=chiller, price=Price(0.32, "EUR"), lights_w=250.0, pumps_w=60.0)


class Invented(NamedTuple):
    """A past, its days, its events and what was commissioned, of the shape that the readers give."""

    whole: Past
    totals: tuple[DayTotals, ...]
    recorded: tuple[Event, ...]
    commissioned: tuple[Record, ...] = ()

    def past(self, from_s: float, until_s: float, most_spans: int) -> Past:
        """Return what lies in a stretch, as `HistoryReader` does."""
        del most_spans
        series = {
            kind: tuple(span for span in spans if from_s <= span.from_s < until_s)
            for kind, spans in self.whole.series.items()
        }
        runs = tuple(
            one._replace(from_s=max(one.from_s, from_s), until_s=min(one.until_s, until_s))
            for one in self.whole.intervals
            if one.from_s < until_s and one.until_s > from_s
        )
        return Past(from_s, until_s, self.whole.span_s, series, runs)

    def days(self, first: str, last: str) -> tuple[DayTotals, ...]:
        """Return the totals, as `HistoryReader` does."""
        return tuple(one for one in self.totals if first <= one.date <= last)

    def between(self, from_s: float, until_s: float) -> tuple[Event, ...]:
        """Return the events, as `EventReader` does."""
        return tuple(
            one
            for one in self.recorded
            if from_s <= datetime.fromisoformat(one.at_wall).timestamp() < until_s
        )


def event(at_s: float, kind: str, subject: str, change: str, what: str = "", **more: Any) -> Event:
    """Return an event at a moment."""
    wall = datetime.fromtimestamp(at_s, ZONE).isoformat(timespec="seconds")
    plain = Event("boot", at_s, wall, True, kind, subject, change, what or f"{subject} {change}")
    return plain._replace(**more)


def at(text: str) -> float:
    """Return a moment by the tank's clock, Unix seconds."""
    return datetime.fromisoformat(text).replace(tzinfo=ZONE).timestamp()


class Lived:
    """Holds a tank by its two-position control and writes down what the history would."""

    def __init__(self, begins: date, days: int, plan: TankPlan, settings: Settings) -> None:
        self.plan, self.settings = plan, settings
        self.balance = TankBalance(plant_of(plan, capacity_w=plan.chiller.capacity_w))
        self.begins = begins
        self.days = days
        self.evaporated_kg = 0.0
        self.chiller_j = 0.0
        self.hottest_c = [26.0 + 11.0 * min(1.0, day / (0.8 * days)) for day in range(days)]

    def weather(self, day: int) -> DesignDay:
        """Return a day of weather, hotter from day to day."""
        hottest_c = self.hottest_c[day]
        return DesignDay(hottest_c, hottest_c - 10.0, 0.42)

    def live(self, span_s: int = 300) -> Invented:
        """Live through all days."""
        assert self.settings.fans is not None
        assert self.settings.chiller is not None
        fans, chiller = self.settings.fans.cut, self.settings.chiller.cut
        state = self.balance.at_rest(25.3, self.weather(0).at(0.0))
        on = {"fan1": False, "fan2": False, "chiller": False}
        since: dict[str, float] = {}
        runs: list[Interval] = []
        rows: dict[Series, list[Span]] = {DISPLAY: [], SUMP: [], ROOM: [], HUMIDITY: []}
        stopped_s = 0.0
        midnight = at(f"{self.begins.isoformat()} 00:00")
        now_s = midnight
        for _ in range(self.days * 86_400 // span_s):
            day, time_s = divmod(now_s - midnight, 86_400.0)
            for name in ("fan1", "fan2"):
                wanted = state.water_c >= (fans.cut_out_c if on[name] else fans.cut_in_c)
                self._switch(name, wanted, now_s, on, since, runs)
            wanted = state.water_c > (chiller.cut_out_c if on["chiller"] else chiller.cut_in_c)
            if wanted and not on["chiller"] and now_s - stopped_s < 300.0:
                wanted = False
            if on["chiller"] and not wanted:
                stopped_s = now_s
            self._switch("chiller", wanted, now_s, on, since, runs)
            lit = self.settings.lights.on_s <= time_s < self.settings.lights.off_s
            drive = Drive(
                lights=float(lit), fans=(float(on["fan1"]), float(on["fan2"])), chiller=on["chiller"]
            )
            outside = self.weather(int(day)).at(time_s)
            state, flows = self.balance.advance(state, drive, outside, float(span_s))
            self.evaporated_kg += flows.evaporation_kg_s * span_s
            self.chiller_j += flows.chiller_electric_w * span_s
            now_s += span_s
            self._keep(rows, now_s - span_s, float(span_s), state.water_c, state.room_c, state.room_ratio)
        for name, running in on.items():
            if running:
                runs.append(Interval(name, since[name], now_s, True, True))
        past = Past(
            midnight,
            now_s,
            float(span_s),
            {kind: tuple(spans) for kind, spans in rows.items()},
            tuple(sorted(runs, key=lambda one: one.from_s)),
        )
        return Invented(past, (), ())

    @staticmethod
    def _switch(
        name: str,
        wanted: bool,
        now_s: float,
        on: dict[str, bool],
        since: dict[str, float],
        runs: list[Interval],
    ) -> None:
        if wanted and not on[name]:
            since[name] = now_s
        if on[name] and not wanted:
            runs.append(Interval(name, since[name], now_s, False, True))
        on[name] = wanted

    @staticmethod
    def _keep(
        rows: dict[Series, list[Span]],
        from_s: float,
        lasts_s: float,
        water_c: float,
        room_c: float,
        ratio: float,
    ) -> None:
        wobble_c = 0.06 * ((from_s // lasts_s * 7) % 5 - 2) / 2.0
        shown_c = round((water_c + wobble_c) * 16.0) / 16.0
        rows[DISPLAY].append(Span(from_s, lasts_s, shown_c, shown_c - 0.06, shown_c + 0.06, 1.0))
        low_c = round((water_c - 0.2 - wobble_c) * 16.0) / 16.0
        rows[SUMP].append(Span(from_s, lasts_s, low_c, low_c - 0.06, low_c + 0.06, 0.98))
        rows[ROOM].append(Span(from_s, lasts_s, room_c, room_c - 0.1, room_c + 0.1, 1.0))
        humidity = relative_humidity(room_c, ratio)
        rows[HUMIDITY].append(Span(from_s, lasts_s, humidity, humidity, humidity, 1.0))


def totals_of(past: Past, band: SafeBand) -> tuple[DayTotals, ...]:
    """Sum a past up day by day, as the guard would have."""
    found = []
    day = datetime.fromtimestamp(past.from_s, ZONE).date()
    while (whole := day_of(day, ZONE)).until_s <= past.until_s:
        water = [
            [span for span in past.series[kind] if whole.from_s <= span.from_s < whole.until_s]
            for kind in (DISPLAY, SUMP)
        ]
        warm, cold = water
        hours = past.span_s / 3_600.0
        over_k = [span.mean - band.high_c for span in warm if span.mean > band.high_c]
        under_k = [band.low_c - span.mean for span in cold if span.mean < band.low_c]
        runs = [(one, whole.overlap_s(one.from_s, one.until_s)) for one in past.intervals]
        names = {one.output for one in past.intervals}
        found.append(
            DayTotals(
                day.isoformat(),
                min((span.low for span in cold), default=None),
                max((span.high for span in warm), default=None),
                sum(span.mean for span in warm) / len(warm) if warm else None,
                past.span_s * len(warm),
                past.span_s * len(warm),
                past.span_s * len(over_k),
                past.span_s * len(under_k),
                hours * sum(over_k),
                hours * sum(under_k),
                {name: sum(lasts_s for one, lasts_s in runs if one.output == name) for name in names},
                {
                    name: sum(one.output == name and whole.holds(one.from_s) for one, _ in runs)
                    for name in names
                },
            )
        )
        day += timedelta(days=1)
    return tuple(found)


def water_alarms(past: Past, band: SafeBand, first_ack_s: float = 1_500.0) -> list[Event]:
    """Return the alarms that the water raised: returned half an hour after it was back in the band."""
    told: list[Event] = []
    since_s: float | None = None
    over_s = 0.0
    for span in past.series[DISPLAY]:
        if span.mean > band.high_c:
            if since_s is None:
                since_s = span.from_s + 60.0
                said = f"the water is {span.mean:.1f} °C, above the safe band"
                told.append(event(since_s, "alarm", "water high", "raised", said, priority=3))
            over_s = span.from_s + span.lasts_s
        elif since_s is not None and span.from_s - over_s >= 1_800.0:
            lasted = {"lasted_s": span.from_s - since_s}
            told.append(event(span.from_s, "alarm", "water high", "returned", priority=3, details=lasted))
            since_s = None
    raised = [one for one in told if one.change == "raised"]
    for place, one in enumerate(raised[:-1]):
        known_s = one.at_boot_s + first_ack_s * (1 + place % 3)
        who = ("anna", "jon")[place % 2]
        asked = f"{who} acknowledges: water high"
        told.append(event(known_s, "command", "acknowledge", "asked", asked, who=who))
        told.append(event(known_s + 1.0, "alarm", "water high", "acknowledged", priority=3, who=who))
    return told


def heat_wave(days: int = 14, span_s: int = 300) -> tuple[Invented, Settings]:
    """Return a heat wave from 13 July 2026 on, with a power cut, a loose plug and people about."""
    plan = planned()
    settings = settings_of(plan)
    lived = Lived(date(2026, 7, 13), days, plan, settings).live(span_s).whole
    cut_s = lived.from_s + (days - 3) * 86_400.0 + 52_000.0 // span_s * span_s
    back_s = cut_s + 2_400.0 // span_s * span_s
    loose_s = lived.from_s + (days - 5) * 86_400.0
    series = {
        kind: tuple(
            span
            for span in spans
            if not cut_s <= span.from_s < back_s
            and not (kind == SUMP and loose_s <= span.from_s < loose_s + 16_200.0)
        )
        for kind, spans in lived.series.items()
    }
    runs = []
    for one in lived.intervals:
        if not (one.from_s < back_s and one.until_s > cut_s):
            runs.append(one)
            continue
        if one.from_s < cut_s:
            runs.append(one._replace(until_s=cut_s, running=True))
        if one.until_s > back_s + 300.0:
            runs.append(one._replace(from_s=back_s + 300.0, start=True))
    past = lived._replace(series=series, intervals=tuple(sorted(runs, key=lambda one: one.from_s)))
    told = water_alarms(past, settings.safe_band)
    left = {"version": "0.1.0", "last_run_ended": "unexpectedly"}
    told += [
        event(
            lived.from_s, "guard", "guard", "started", details={"version": "0.1.0", "last_run_ended": None}
        ),
        event(back_s, "guard", "guard", "started", "the guard has started", details=left),
        event(back_s, "alarm", "guard restarted unexpectedly", "raised", "a power cut?", priority=2),
        event(back_s + 660.0, "alarm", "guard restarted unexpectedly", "returned", priority=2),
        event(loose_s + 300.0, "alarm", "probe sump not used", "raised", "no such probe", priority=2),
        event(loose_s + 15_000.0, "alarm", "probe sump not used", "acknowledged", priority=2, who="jon"),
        event(loose_s + 16_260.0, "alarm", "probe sump not used", "returned", priority=2),
    ]
    told.sort(key=lambda one: one.at_boot_s)
    return Invented(past, totals_of(past, settings.safe_band), tuple(told)), settings
