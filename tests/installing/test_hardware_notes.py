"""The hardware notes: every alarm has its place, every pin is where it is told, drawings can be read."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from reefguard.alarms.catalogue import CATALOGUE, Kind
from reefguard.settings.pins import _GPIO_AT, _POWER_AND_GROUND, pulled_up_at_power_on

NOTES = Path(__file__).parents[2] / "hardware-notes"
TEXTS = sorted(NOTES.glob("*.md"))
DRAWINGS = sorted((NOTES / "drawings").glob("*.svg"))
SVG = "{http://www.w3.org/2000/svg}"


def _read(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _sections(text: str) -> dict[str, str]:
    _, *rest = re.split(r"^## (.*)\n", text, flags=re.MULTILINE)
    return dict(zip(rest[::2], rest[1::2], strict=True))


ALARMS = _sections(_read(NOTES / "alarms.md"))


@pytest.mark.parametrize("kind", CATALOGUE, ids=lambda kind: kind.name)
def test_every_alarm_has_its_place_with_what_to_do_first(kind: Kind) -> None:
    section = ALARMS[kind.name.replace("*", "…")]
    first = kind.first if kind.first.startswith("`") else kind.first[0].upper() + kind.first[1:]
    assert section.splitlines()[1] == f"**Act {kind.priority.within}.** {first}."
    assert f"It means: {kind.means}. " in section
    # More than what the message itself says.
    assert len(section.partition(kind.means)[2].split()) > 12


def test_there_is_no_place_for_an_alarm_that_is_none() -> None:
    assert set(ALARMS) == {kind.name.replace("*", "…") for kind in CATALOGUE}


def test_mains_come_first_wherever_they_come() -> None:
    readme = _read(NOTES / "README.md")
    assert re.match(
        r"# Hardware notes\n\n## Mains first\n\n\*\*Mains wiring is a licensed electrician's work", readme
    )
    for word in ("local codes", "Ground-fault", "Drip loops"):
        assert word in _sections(readme)["Mains first"]
    for name in ("wiring.md", "contacts.md", "checklists.md", "alarms.md", "parts.md"):
        assert "electrician" in _read(NOTES / name).partition("\n## ")[0], name


@pytest.mark.parametrize("text", [*TEXTS, *DRAWINGS], ids=lambda path: path.name)
def test_every_pin_is_where_it_is_said_to_be(text: Path) -> None:
    words = re.sub(r"<[^>]*>", " ", _read(text))
    for gpio, position in re.findall(r"\bGPIO(\d+) \| header (\d+)\b", words):
        assert _GPIO_AT[int(position)] == int(gpio)
    for power, position in re.findall(r"\b(3\.3 V|ground) on header (\d+)\b", words):
        assert _POWER_AND_GROUND[int(position)] == power


def test_the_buses_drawing_names_the_headers_positions() -> None:
    root = ET.fromstring(_read(NOTES / "drawings" / "two-buses.svg"))  # noqa: S314  our own file
    at: dict[str, dict[str, str]] = {}
    for one in root.iter(f"{SVG}text"):
        text = one.text or ""
        if text.startswith("header "):
            at.setdefault(one.attrib["y"], {})["position"] = text.removeprefix("header ")
        elif re.match(r"GPIO\d+|3\.3 V$|ground$", text):
            at.setdefault(one.attrib["y"], {})["what"] = text
    pairs = [(int(row["position"]), row["what"]) for row in at.values() if len(row) == 2]
    assert len(pairs) == 6
    for position, what in pairs:
        if what.startswith("GPIO"):
            assert f"GPIO{_GPIO_AT[position]}" == what.partition(",")[0]
        else:
            assert _POWER_AND_GROUND[position] == what


def test_the_pins_of_the_notes_are_pulled_the_way_they_say() -> None:
    # Broadcom, BCM2835 ARM Peripherals, table 6-31.
    for gpio in (17, 27, 22, 23):
        assert pulled_up_at_power_on(gpio) is False
    for gpio in (5, 6):
        assert pulled_up_at_power_on(gpio) is True


def test_every_link_leads_somewhere() -> None:
    for text in TEXTS:
        for target in re.findall(r"\]\(([^)]+)\)", _read(text)):
            name, _, anchor = target.partition("#")
            path = (text.parent / name) if name else text
            assert path.exists(), (text.name, target)
            if anchor:
                headings = re.findall(r"^#+ (.*)$", _read(path), flags=re.MULTILINE)
                anchors = {re.sub(r"[^\w -]", "", one.lower()).replace(" ", "-") for one in headings}
                assert anchor in anchors, (text.name, target)


def test_no_drawing_is_left_out_and_each_has_words_beside_it() -> None:
    shown = [
        one for text in TEXTS for one in re.findall(r"!\[([^\]]*)\]\(([^)]+)\)", _read(text))
    ]  # fmt: skip
    assert sorted(target for _, target in shown) == sorted(f"drawings/{one.name}" for one in DRAWINGS)
    assert all(len(words) > 40 for words, _ in shown)


@pytest.mark.parametrize("drawing", DRAWINGS, ids=lambda path: path.name)
def test_a_drawing_tells_itself_in_words_and_stays_within_its_frame(drawing: Path) -> None:
    root = ET.fromstring(_read(drawing))  # noqa: S314  our own file
    width, height = (float(number) for number in root.attrib["viewBox"].split()[2:])
    assert root.attrib["role"] == "img"
    title, described = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert described is not None
    assert len(described.text or "") > 100
    assert root.attrib["aria-labelledby"].split() == [title.attrib["id"], described.attrib["id"]]
    for one in root.iter(f"{SVG}text"):
        x, y = float(one.attrib["x"]), float(one.attrib["y"])
        # Letters of DejaVu Sans, measured here: some 5.8 px wide at 12 px, 8.2 px at 14 px and bold.
        size = 6.4 if "s" in one.attrib.get("class", "").split() else 8.8
        long = size * len(one.text or "")
        anchor = one.attrib.get("class", "").split()
        left = x - long if "e" in anchor else x - long / 2 if "m" in anchor else x
        assert left >= 0, one.text
        assert left + long <= width, one.text
        assert 0 < y < height
    # Nothing from elsewhere, and nothing that runs.
    assert not re.search(r"href|<script|url\(|@import", _read(drawing))


@pytest.mark.parametrize("drawing", DRAWINGS, ids=lambda path: path.name)
def test_a_drawing_can_be_read_in_a_light_and_in_a_dark_room(drawing: Path) -> None:
    """WCAG 2.2, level AA: 4.5 to 1 for text, 3 to 1 for lines (criteria 1.4.3 and 1.4.11)."""
    style = re.search(r"<style>(.*?)</style>", _read(drawing), flags=re.DOTALL)
    assert style is not None
    light, dark = style[1].split("@media (prefers-color-scheme:dark)")
    for sheet in (light, dark):
        colours = dict(re.findall(r"\.?([\w]+)\{[^}]*?(?:fill|stroke):(#[0-9a-f]{6})", sheet))
        grounds = [colours[name] for name in ("paper", "water", "warm")]
        for ground in grounds[:1]:
            for name in ("text", "q", "t", "u", "v", "w"):
                assert _contrast(colours[name], ground) >= 4.5, (name, ground)
        for name in ("ink", "thin", "a", "b", "c", "alarm"):
            for ground in grounds:
                assert _contrast(colours[name], ground) >= 3.0, (name, ground)
        for name in ("text", "u", "q"):
            assert _contrast(colours[name], colours["warm"]) >= 4.5, name


def _contrast(one: str, other: str) -> float:
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
