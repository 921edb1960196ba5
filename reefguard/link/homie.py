"""A tank as topics and payloads of the Homie convention 5.0: the pure half of the MQTT outlet.

What is not known has no topic: a retained number outlives the probe it came from, so
the number is deleted (an empty retained payload) as soon as it cannot be vouched for,
while `quality`, `updated` and `condition` stay and say so.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Final

from reefguard.alarms.catalogue import GUARD_SILENT
from reefguard.link.homie_description import CONDITIONS, MODES, QUALITIES, description, places
from reefguard.link.ports import Snapshot
from reefguard.link.readout import (
    Table,
    flag,
    moment,
    number,
    severities,
    standing_alarms,
    table,
    tables,
    text,
)
from reefguard.link.topic_ids import unique_ids

STATE: Final = "$state"
DESCRIPTION: Final = "$description"
ALERT: Final = "$alert/"

# They change with almost every look, as the sentence of an alert does, and wait for the period.
_TICKING: Final = ("temperature", "updated", "status-age", "why", "warmest", "coldest", "humidity", "level")


class DeviceState(Enum):
    """The life of a device, in the convention's words."""

    INIT = "init"
    READY = "ready"
    DISCONNECTED = "disconnected"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class Picture:
    """A tank as it shall stand on the broker.

    Attributes:
        description: the payload of `$description`.
        topics: payloads of values and alerts, by their topics below the device.
    """

    description: bytes
    topics: Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class Post:
    """One retained message; an empty payload deletes the topic."""

    topic: str
    payload: bytes


def root(domain: str, device: str) -> str:
    """Return the topic everything of a device is below."""
    return f"{domain}/5/{device}"


def picture(snapshot: Snapshot, device: str, refresh_s: float) -> Picture:
    """Return how the tank shall stand on the broker.

    Args:
        snapshot: what the link knows of the guard.
        device: the device's id.
        refresh_s: how often values are published at least.
    """
    status: Table = snapshot.status or {}
    known = status if snapshot.fresh else {}
    values = {
        **_probes(status, fresh=snapshot.fresh),
        **_outputs(known, status),
        **_tank(known, status),
        "guard/mode": _word(text(known, "mode"), MODES),
        "guard/condition": condition(snapshot),
        "guard/status-age": None if snapshot.age_s is None else str(max(0, round(snapshot.age_s))),
        "guard/updated": _when(status),
        "guard/refresh": str(max(1, round(refresh_s))),
    }
    described = json.dumps(description(status, device), ensure_ascii=False, separators=(",", ":"))
    topics = {topic: _payload(value) for topic, value in values.items() if value is not None}
    return Picture(described.encode(), topics | dict(_alerts(snapshot)))


def condition(snapshot: Snapshot) -> str:
    """Return how the tank stands, in one word: `critical` also where the guard has fallen silent."""
    if snapshot.status is None:
        return CONDITIONS[3]
    found = severities(snapshot.status)
    if not snapshot.fresh or "critical" in found:
        return CONDITIONS[2]
    return CONDITIONS[1] if found else CONDITIONS[0]


def announcement(shall: Picture) -> Iterator[Post]:
    """Return what a device says when it appears: what it is, how it stands, then that it is ready."""
    yield _state(DeviceState.INIT)
    yield Post(DESCRIPTION, shall.description)
    for topic, payload in shall.topics.items():
        yield Post(topic, payload)
    yield _state(DeviceState.READY)


def changes(stands: Picture, shall: Picture) -> Iterator[Post]:
    """Return what turns one picture into another.

    A description may change only while the device is not ready.
    """
    described_anew = stands.description != shall.description
    if described_anew:
        yield _state(DeviceState.INIT)
    for topic in stands.topics:
        if topic not in shall.topics:
            yield Post(topic, b"")
    if described_anew:
        yield Post(DESCRIPTION, shall.description)
    for topic, payload in shall.topics.items():
        if stands.topics.get(topic) != payload:
            yield Post(topic, payload)
    if described_anew:
        yield _state(DeviceState.READY)


def urgent(stands: Picture, shall: Picture) -> bool:
    """Return whether more has changed than what flows all the time: it is then told at once."""
    if stands.description != shall.description or stands.topics.keys() != shall.topics.keys():
        return True
    return any(
        stands.topics[topic] != payload
        for topic, payload in shall.topics.items()
        if not topic.startswith(ALERT) and not topic.endswith(_TICKING)
    )


def _state(state: DeviceState) -> Post:
    return Post(STATE, state.value.encode())


def _payload(value: str) -> bytes:
    """Return a value's bytes; an empty text is one zero byte, as no bytes would delete the topic."""
    return value.encode() or b"\x00"


def _probes(status: Table, *, fresh: bool) -> dict[str, str | None]:
    values: dict[str, str | None] = {}
    at = places(status).probes
    for name, probe in tables(status, "probes").items():
        node, water_c = at[name], number(probe, "water_c") if fresh else None
        quality = (text(probe, "quality") or "").replace(" ", "-")
        values[f"{node}/temperature"] = _number(water_c)
        values[f"{node}/quality"] = _word(quality, QUALITIES) if fresh else QUALITIES[4]
        # Kept when the guard falls silent: it says until when the water was known.
        values[f"{node}/updated"] = _when(status, number(probe, "age_s"))
    return values


def _outputs(known: Table, status: Table) -> dict[str, str | None]:
    values: dict[str, str | None] = {}
    at = places(status).outputs
    for name, output in tables(known, "outputs").items():
        node = at[name]
        values[f"{node}/active"] = _boolean(flag(output, "on"))
        values[f"{node}/level"] = _percent(number(output, "level"))
        values[f"{node}/why"] = text(output, "why")
    return values


def _tank(known: Table, status: Table) -> dict[str, str | None]:
    """Return what is there once per tank; the safe band is a setting, and holds while the guard is silent."""
    water, band, room = table(known, "water"), table(status, "safe_band"), table(known, "room")
    lights, cutoff = table(known, "lights"), table(known, "cutoff")
    return {
        "water/warmest": _number(number(water, "warmest_c")),
        "water/coldest": _number(number(water, "coldest_c")),
        "water/band-low": _number(number(band, "low_c")),
        "water/band-high": _number(number(band, "high_c")),
        "room/temperature": _number(number(room, "air_c")),
        "room/humidity": _percent(number(room, "relative_humidity")),
        "lights/active": _boolean(flag(lights, "on")),
        "lights/told": text(lights, "told"),
        "cutoff/state": text(cutoff, "state"),
        "cutoff/permits": _boolean(flag(cutoff, "permits")),
        "cutoff/why": text(cutoff, "why"),
    }


def _alerts(snapshot: Snapshot) -> Iterator[tuple[str, bytes]]:
    """Return every alarm that stands; those of a guard that fell silent have not been seen to end."""
    alarms = {one.name: one.what for one in standing_alarms(snapshot.status or {})}
    if not snapshot.fresh:
        alarms[GUARD_SILENT] = "the guard is silent: nobody knows how the tank stands"
    for name, one in unique_ids(alarms).items():
        yield ALERT + one, _payload(alarms[name])


def _number(value: float | None) -> str | None:
    """Return a float as the convention writes one, which knows no plus sign in an exponent."""
    return None if value is None else f"{value:.4f}"


def _percent(share: float | None) -> str | None:
    return None if share is None or not 0.0 <= share <= 1.0 else f"{share * 100.0:.2f}"


def _boolean(value: bool | None) -> str | None:
    return None if value is None else str(value).lower()


def _word(value: str | None, words: tuple[str, ...]) -> str | None:
    return value if value in words else None


def _when(status: Table, age_s: float | None = 0.0) -> str | None:
    at = moment(status, age_s)
    return None if at is None else at.isoformat(timespec="seconds")
