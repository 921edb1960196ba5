"""The water against the safe band, as a picture: a ruler, the band a block on it, a pointer for the water."""

from dataclasses import dataclass

from reefguard.link.page.sight import Sight
from reefguard.link.readout import number, table
from reefguard.report.svg import element, escaped
from reefguard.report.svg import number as pixels
from reefguard.settings.model import Unit

_WIDTH, _HEIGHT, _EDGE = 320.0, 58.0, 14.0
_BEYOND = 0.6
"""How much of the band's width is shown beyond either end."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """A finished picture; it says nothing that does not stand beside it in words."""

    svg: str


def gauge(seen: Sight, unit: Unit) -> Gauge | None:
    """Draw the ruler; `None` where the band or the water of now is not known."""
    water, band = table(seen.status, "water"), table(seen.status, "safe_band")
    low_c, high_c = number(band, "low_c"), number(band, "high_c")
    warmest_c, coldest_c = number(water, "warmest_c"), number(water, "coldest_c")
    if low_c is None or high_c is None or low_c >= high_c or not seen.of_now:
        return None
    if warmest_c is None or coldest_c is None:
        return None
    first_c, last_c = low_c - _BEYOND * (high_c - low_c), high_c + _BEYOND * (high_c - low_c)

    def x(celsius: float) -> float:
        share = (min(last_c, max(first_c, celsius)) - first_c) / (last_c - first_c)
        return _EDGE + share * (_WIDTH - 2 * _EDGE)

    left, right = x(low_c), x(high_c)
    line, top = 36.0, 26.0
    inside = element("path", class_="rule", d=f"M{pixels(_EDGE)} {pixels(line)}H{pixels(_WIDTH - _EDGE)}")
    inside += element("rect", class_="safe", x=left, y=top, width=right - left, height=14.0)
    inside += element(
        "path", class_="ends", d=f"M{pixels(left)} {pixels(top - 3)}v20M{pixels(right)} {pixels(top - 3)}v20"
    )
    for at, celsius in ((left, low_c), (right, high_c)):
        inside += element("text", escaped(f"{unit.of(celsius):.1f}"), x=at, y=56.0, class_="middle quiet")
    inside += element(
        "path", class_="spread", d=f"M{pixels(x(coldest_c))} {pixels(line - 3)}H{pixels(x(warmest_c))}"
    )
    inside += _pointer(x(warmest_c), top, beyond=warmest_c > last_c, below=warmest_c < first_c)
    return Gauge(
        element(
            "svg",
            inside,
            class_="gauge",
            aria_hidden="true",
            focusable="false",
            width=_WIDTH,
            height=_HEIGHT,
            viewBox=f"0 0 {pixels(_WIDTH)} {pixels(_HEIGHT)}",
        )
    )


def _pointer(x: float, top: float, *, beyond: bool, below: bool) -> str:
    """Draw a drop that hangs over the ruler; off its ends, an arrow that points away."""
    if beyond:
        shape = f"M{pixels(x + 9)} {pixels(top - 11)}l-16-9v18z"
    elif below:
        shape = f"M{pixels(x - 9)} {pixels(top - 11)}l16-9v18z"
    else:
        shape = f"M{pixels(x)} {pixels(top + 5)}l-7-13a8 8 0 1 1 14 0z"
    return element("path", class_="pointer", d=shape)
