"""The status as lines for a terminal.

Takes the status document as it was read, and passes over what is not there or
cannot be understood: another version may have written it.
"""

import math
from collections.abc import Iterator
from typing import Any, TypeGuard

from reefguard.control.words import span, temperature
from reefguard.settings.model import Unit

_WIDTH = 40


def lines(status: dict[str, Any], age_s: float | None) -> Iterator[str]:
    """Return the status, a line each."""
    if not status:
        return
    unit = unit_of(status)
    yield ""
    yield f"  {'tank':<10}{status.get('tank', '?')}, {status.get('written', '?')}{_age(age_s)}"
    yield f"  {'mode':<10}{status.get('mode', '?')}"
    yield f"  {'water':<10}{_water(status, unit)}"
    yield from _probes(table(status, "probes"), unit)
    yield f"  {'lights':<10}{_lights(table(status, 'lights'))}"
    yield ""
    for name, output in table(status, "outputs").items():
        if isinstance(output, dict):
            yield f"  {name:<10}{_level(output):<6}{output.get('why', '')}"
    yield f"  {'cutoff':<10}{_cutoff(table(status, 'cutoff'))}"
    if isinstance(status.get("proof_test"), dict):
        yield f"  {'':<10}{_proof_test(status['proof_test'])}"
    coming = table(status, "next")
    if is_number(coming.get("in_s")):
        yield f"  {'next':<10}{coming.get('what')} in {span(coming['in_s'])}"
    findings = findings_of(status)
    if findings:
        yield ""
    for one in findings:
        yield f"  {one.get('severity', '?')}: {one.get('what', '?')}"
        yield f"    mend: {one.get('mend', '?')}"


def ruler(value_c: float, low_c: float, high_c: float, width: int = _WIDTH) -> str:
    """Return where a temperature lies between two limits; outside, an arrow points to it.

    >>> ruler(25.9, 24.0, 27.8, width=9)
    '[....|....]'
    >>> ruler(28.4, 24.0, 27.8, width=9)
    '[.........]>'
    >>> ruler(23.0, 24.0, 27.8, width=9)
    '<[.........]'
    """
    if value_c < low_c:
        return f"<[{'.' * width}]"
    if value_c > high_c:
        return f"[{'.' * width}]>"
    place = round((value_c - low_c) / (high_c - low_c) * (width - 1)) if high_c > low_c else 0
    return f"[{'.' * place}|{'.' * (width - 1 - place)}]"


def unit_of(status: dict[str, Any]) -> Unit:
    """Return the unit its temperatures are shown in."""
    return Unit.FAHRENHEIT if status.get("show_temperatures_in") == Unit.FAHRENHEIT.value else Unit.CELSIUS


def table(status: dict[str, Any], key: str) -> dict[str, Any]:
    """Return what stands under `key`, empty unless it is an object."""
    value = status.get(key)
    return value if isinstance(value, dict) else {}


def findings_of(status: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the findings, as far as they are any."""
    found = status.get("findings")
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def is_number(value: object) -> TypeGuard[float]:
    """Return whether a JSON value is a number one can calculate with.

    >>> [is_number(value) for value in (27, 26.5, True, float("nan"), float("inf"), 10**400, "27", None)]
    [True, True, False, False, False, False, False, False]
    """
    try:
        return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    except OverflowError:
        return False


def _age(age_s: float | None) -> str:
    return "" if age_s is None else f", {span(age_s)} ago"


def _water(status: dict[str, Any], unit: Unit) -> str:
    water, band = table(status, "water"), table(status, "safe_band")
    warmest_c, low_c, high_c = water.get("warmest_c"), band.get("low_c"), band.get("high_c")
    if not is_number(warmest_c):
        return "not known: no probe is trusted"
    if not is_number(low_c) or not is_number(high_c):
        return temperature(warmest_c, unit)
    ends = f"{temperature(low_c, unit)} to {temperature(high_c, unit)}"
    return f"{temperature(warmest_c, unit)}  {ruler(warmest_c, low_c, high_c)}  safe band {ends}"


def _probes(probes: dict[str, Any], unit: Unit) -> Iterator[str]:
    for name, probe in probes.items():
        if not isinstance(probe, dict):
            continue
        shows = probe.get("shows_c")
        value = temperature(shows, unit) if is_number(shows) else "no value"
        trouble = "" if probe.get("cause") == "in order" else f", {probe.get('cause')}"
        used = "used" if probe.get("used") is True else "not used"
        yield f"  {'':<10}{name}: {value} ({probe.get('id')}), {used}{trouble}"


def _lights(lights: dict[str, Any]) -> str:
    on = lights.get("on")
    state = ("on" if on else "off") if isinstance(on, bool) else "unknown"
    return f"{state} ({lights.get('told', '?')})"


def _level(output: dict[str, Any]) -> str:
    level = output.get("level")
    if is_number(level) and 0.0 < level < 1.0:
        return f"{level:.0%}"
    return "on" if output.get("on") is True else "off"


def _cutoff(cutoff: dict[str, Any]) -> str:
    if not cutoff:
        return "not heard of"
    return f"{cutoff.get('state')}: {cutoff.get('why')}"


def _proof_test(test: dict[str, Any]) -> str:
    """Say when the cutoff was last proof-tested, and when that is due again."""
    passed, failed, due = (str(test.get(key) or "")[:10] for key in ("passed", "failed", "due"))
    if failed:
        return f"proof test FAILED on {failed}"
    if not passed:
        return "never proof-tested"
    return f"proof test passed on {passed}" + (f", due again on {due}" if due else "")
