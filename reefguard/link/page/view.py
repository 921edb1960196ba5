"""From what is known at a moment to what the page says: words, shapes and numbers, ready to be set.

Pure.  Nothing here is escaped; the templates do that.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime

from reefguard.alarms.catalogue import Priority
from reefguard.alarms.machine import State
from reefguard.control.words import span
from reefguard.link.page.gauge import gauge
from reefguard.link.page.said import AlarmSaid, Named, Said, Shape, View
from reefguard.link.page.sight import Liveness, Sight
from reefguard.link.readout import Table, flag, number, table, tables, text
from reefguard.report.calendar import MONTHS
from reefguard.settings.model import Unit

_STATES_SHOWN = {
    State.UNACKNOWLEDGED.value: "nobody has acknowledged it",
    State.ACKNOWLEDGED.value: "acknowledged",
    State.LATCHED_UNACKNOWLEDGED.value: "over, and waits for a reset; nobody has acknowledged it",
    State.LATCHED_ACKNOWLEDGED.value: "over, and waits for a reset",
}
_STATES_QUIET = {
    State.RETURNED.value: "over; nobody has acknowledged it",
    State.SHELVED.value: "shelved by a person",
    State.SUPPRESSED.value: "explained by another alarm",
    State.OUT_OF_SERVICE.value: "taken out of service",
}


def view(seen: Sight, tank: str, unit: Unit) -> View:
    """Say what there is to say.

    Args:
        seen: the guard's status, and how far it is of now.
        tank: its name in the settings, where the status says none.
        unit: of temperatures, where the status says none.
    """
    status = seen.status
    tank = text(status, "tank") or tank
    unit = next((one for one in Unit if one.value == status.get("show_temperatures_in")), unit)
    alarms = tuple(_alarms(status, _STATES_SHOWN))
    findings = tuple(_findings(status))
    place = _place(seen)
    condition = _condition(seen, alarms, findings, place)
    warmest_c = number(table(status, "water"), "warmest_c")
    known_c = warmest_c if seen.of_now else None
    shown = None if known_c is None else short_temperature(known_c, unit)
    return View(
        title=f"{condition.word}{f' {shown}' if shown else ''} - {tank}",
        tank=tank,
        spoken=_spoken(condition, place, alarms),
        liveness=seen.liveness,
        loud=seen.why,
        condition=condition,
        water="\N{EN DASH}" if known_c is None else f"{unit.of(known_c):.1f}",
        unit=unit.value,
        last_water=_last_water(seen, unit),
        place=place,
        band=_band(status, unit),
        gauge=gauge(seen, unit),
        age="" if (age_s := _age_s(seen)) is None else f"measured {span(age_s)} ago",
        age_s=None if age_s is None else round(age_s, 1),
        written=_written(status),
        alarms=alarms,
        quiet_alarms=tuple(_alarms(status, _STATES_QUIET)),
        findings=findings,
        outputs=tuple(_outputs(status)),
        cutoff=_cutoff(status),
        lights=_lights(status),
        room=_room(status, unit),
        mode=_mode(status),
        probes=tuple(_probes(status, unit)),
        coming=_coming(status, seen),
        proof_test=_proof_test(status),
    )


def short_temperature(celsius: float, unit: Unit) -> str:
    """Return a temperature in tenths, with its unit.

    >>> short_temperature(26.5625, Unit.CELSIUS)
    '26.6 °C'
    """
    return f"{unit.of(celsius):.1f} {unit.value}"


def _condition(
    seen: Sight, alarms: Sequence[AlarmSaid], findings: Sequence[tuple[Said, str]], place: Said
) -> Said:
    if not seen.of_now:
        return Said(Shape.UNKNOWN, "NOT LIVE", seen.liveness.value)
    if alarms:
        return Said(Shape.ALARM, "ALARM", alarms[0].name)
    if seen.liveness is Liveness.LATE:
        return Said(Shape.UNKNOWN, "LATE", "the guard is late")
    if place.shape is not Shape.WELL:
        return Said(Shape.LOOK, "LOOK", place.word)
    if findings:
        return Said(Shape.LOOK, "LOOK", findings[0][0].why)
    return Said(Shape.WELL, "OK", "nothing asks for you")


def _spoken(condition: Said, place: Said, alarms: Sequence[AlarmSaid]) -> str:
    if condition.word == "NOT LIVE":
        return f"Not live: {condition.why}. What is shown is old."
    named = f" Alarms: {', '.join(alarm.name for alarm in alarms)}." if alarms else ""
    return f"{condition.word}. The water is {place.word}.{named}"


def _place(seen: Sight) -> Said:
    """Hold the water against the safe band: the coldest below it speaks first, then the warmest."""
    water, band = table(seen.status, "water"), table(seen.status, "safe_band")
    warmest_c, coldest_c = number(water, "warmest_c"), number(water, "coldest_c")
    low_c, high_c = number(band, "low_c"), number(band, "high_c")
    if not seen.of_now:
        return Said(Shape.UNKNOWN, "not known", "there is no reading of now")
    if warmest_c is None or coldest_c is None:
        return Said(Shape.UNKNOWN, "not known", "no probe can be trusted; measure by hand")
    if low_c is None or high_c is None:
        return Said(Shape.UNKNOWN, "known, its safe band is not", "the status names no safe band")
    warmest, coldest = text(water, "warmest_probe") or "a probe", text(water, "coldest_probe") or "a probe"
    if coldest_c < low_c:
        return Said(Shape.BELOW, "below the safe band", f"{coldest} reads lowest")
    if warmest_c > high_c:
        return Said(Shape.ABOVE, "above the safe band", f"{warmest} reads highest")
    return Said(Shape.WELL, "in the safe band", f"{warmest} reads highest, {coldest} lowest")


def _band(status: Table, unit: Unit) -> str:
    band = table(status, "safe_band")
    low_c, high_c = number(band, "low_c"), number(band, "high_c")
    if low_c is None or high_c is None:
        return ""
    return f"{unit.of(low_c):.1f} to {short_temperature(high_c, unit)}"


def _age_s(seen: Sight) -> float | None:
    water_age_s = number(table(seen.status, "water"), "age_s")
    return None if seen.age_s is None or water_age_s is None else seen.age_s + water_age_s


def _last_water(seen: Sight, unit: Unit) -> str:
    warmest_c = number(table(seen.status, "water"), "warmest_c")
    if seen.of_now or warmest_c is None:
        return ""
    at = _written(seen.status)
    return f"It was {short_temperature(warmest_c, unit)}{f' at {at}' if at else ''}."


def _written(status: Table) -> str:
    """Return the time and the day at which the status was written, as it says itself."""
    when = _moment(text(status, "written"), "%H:%M:%S")
    if not when or flag(status, "clock_trusted") is True:
        return when
    return f"{when} (by a clock that is not known to be right)"


def _moment(written: str | None, clock: str) -> str:
    """Return a moment in words; empty for what is none."""
    try:
        at = datetime.fromisoformat(written or "")
    except ValueError:
        return ""
    return f"{at.strftime(clock)} on {at.day} {MONTHS[at.month - 1]} {at.year}"


def _alarms(status: Table, states: dict[str, str]) -> Iterator[AlarmSaid]:
    listed = status.get("alarms")
    for one in listed if isinstance(listed, list) else ():
        if not isinstance(one, dict) or (state := text(one, "state")) not in states:
            continue
        priority = number(one, "priority")
        known = Priority(int(priority)) if priority in set(Priority) else None
        yield AlarmSaid(
            shape=Shape.ALARM,
            name=text(one, "name") or "an alarm without a name",
            urgency="" if known is None else f"{known.name.lower()}: act {known.within}",
            state=states[state or ""],
            what=text(one, "what") or "",
            means=text(one, "means") or "",
            first=text(one, "first") or "",
            since=_moment(text(one, "raised_wall"), "%H:%M"),
        )


def _findings(status: Table) -> Iterator[tuple[Said, str]]:
    listed = status.get("findings")
    for one in listed if isinstance(listed, list) else ():
        if isinstance(one, dict):
            word = text(one, "severity") or "worth a look"
            yield Said(Shape.LOOK, word, text(one, "what") or ""), text(one, "mend") or ""


def _outputs(status: Table) -> Iterator[Named]:
    for name, one in tables(status, "outputs").items():
        on, level = flag(one, "on"), number(one, "level")
        why = text(one, "why") or ""
        if on is None:
            said = Said(Shape.UNKNOWN, "not known", why)
        elif on:
            slow = level is not None and 0.0 < level < 1.0
            said = Said(Shape.ON, f"on at {level:.0%}" if slow else "on", why)
        elif one.get("blocked_by") is not None:
            said = Said(Shape.HELD, "held off", why)
        else:
            said = Said(Shape.OFF, "off", why)
        active_s, changes = number(one, "elapsed_active_s"), number(one, "changes")
        more = "" if active_s is None else f"on for {span(active_s)} since the guard started"
        if more and changes is not None:
            more += f", switched {'once' if changes == 1 else f'{changes:.0f} times'}"
        yield Named(name, said, more)


def _cutoff(status: Table) -> Said:
    cutoff = table(status, "cutoff")
    permits = flag(cutoff, "permits")
    state, why = text(cutoff, "state") or "", text(cutoff, "why") or ""
    if permits is None:
        return Said(Shape.UNKNOWN, "not heard of", "nothing is known of the over-cool cutoff")
    if permits:
        return Said(Shape.ON, "lets the chiller run", why)
    return Said(Shape.HELD, f"holds the chiller off ({state})" if state else "holds the chiller off", why)


def _lights(status: Table) -> Said:
    lights = table(status, "lights")
    on, told = flag(lights, "on"), text(lights, "told")
    why = told or ""
    if on is None:
        return Said(Shape.UNKNOWN, "not known", why)
    return Said(Shape.ON, "on", why) if on else Said(Shape.OFF, "off", why)


def _room(status: Table, unit: Unit) -> str:
    room = table(status, "room")
    air_c, humidity = number(room, "air_c"), number(room, "relative_humidity")
    cools_c = number(room, "fans_cool_above_c")
    said = [] if air_c is None else [short_temperature(air_c, unit)]
    said += [] if humidity is None else [f"{humidity:.0%} relative humidity"]
    said += [] if cools_c is None else [f"fans cool water above {short_temperature(cools_c, unit)}"]
    return ", ".join(said)


_MODES = {
    "automatic": Said(Shape.ON, "automatic", "the water decides"),
    "schedule": Said(Shape.LOOK, "schedule", "no probe can be trusted: fans follow the lights, no chiller"),
}


def _mode(status: Table) -> Said:
    word = text(status, "mode") or "not known"
    return _MODES.get(word, Said(Shape.UNKNOWN, word))


def _probes(status: Table, unit: Unit) -> Iterator[Named]:
    for name, one in tables(status, "probes").items():
        shows_c, age_s = number(one, "shows_c"), number(one, "age_s")
        used, cause = flag(one, "used"), text(one, "cause") or ""
        value = "no value" if shows_c is None else f"{unit.of(shows_c):.2f} {unit.value}"
        word = "used" if used else "not used"
        trouble = "" if cause == "in order" else cause
        more = "" if age_s is None else f"{span(age_s)} old when the guard wrote"
        yield Named(name, Said(Shape.WELL if used else Shape.LOOK, f"{value}, {word}", trouble), more)


def _coming(status: Table, seen: Sight) -> str:
    coming = table(status, "next")
    in_s, what = number(coming, "in_s"), text(coming, "what")
    if in_s is None or what is None or not seen.of_now:
        return ""
    return f"{what} in {span(in_s - (seen.age_s or 0.0))}"


def _proof_test(status: Table) -> str:
    """Return when the cutoff must be proof-tested, where the status says so."""
    test = table(status, "proof_test")
    due = text(test, "due") or text(status, "proof_test_due")
    return "" if due is None else due.partition("T")[0]
