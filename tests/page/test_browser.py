"""The page in a real browser: wide and narrow, light and dark, with and without scripts, live and not.

With `PAGE_PICTURES=DIR` in the environment it leaves a picture of each there, for eyes.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import pytest
from guard_said import status
from page_rig import NOW_S, World, event
from playwright.sync_api import Browser, Page, Route, expect, sync_playwright

from reefguard.link.page.server import Serving
from reefguard.settings.link_model import Listen

FLAGS = [
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
VIEWS: tuple[tuple[int, Literal["light", "dark"]], ...] = (
    (360, "light"),
    (1_280, "dark"),
    (360, "dark"),
    (1_280, "light"),
)
PATIENCE_MS = 60_000.0
expect.set_options(timeout=PATIENCE_MS)
AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
# All of WCAG 2.2 A and AA that a program can judge, and what is usually advised beyond.
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def chromium_path() -> str:
    """Return where Chromium is; without it these tests are skipped, and fail where CI promises it."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        missing = "chromium is not installed; mend: apt-get install chromium"
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)
    return found


@dataclass
class Shown:
    """A page in a browser, and what went wrong on it."""

    page: Page
    address: str
    wrong: list[str] = field(default_factory=list)

    def go(self, where: str = "") -> None:
        """Open the page."""
        self.page.goto(f"{self.address}{where}")

    def sound(self, name: str) -> None:
        """Hold what must be true of every view of the page."""
        page = self.page
        self.fits(name)
        if not page.evaluate("'axe' in window"):
            page.evaluate(AXE)
        found = page.evaluate("tags => axe.run({runOnly: tags, resultTypes: ['violations']})", TAGS)
        bad = [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found["violations"]]
        assert not bad, f"{name}: {bad}"
        assert len(found["passes"]) > 20, "axe has looked at the page"
        self.picture(name)
        assert not self.wrong, f"{name}: {self.wrong}"

    def fits(self, name: str) -> None:
        """Hold that nothing scrolls sideways but the boxes that are made to."""
        wide, room = self.page.evaluate(
            "(({scrollWidth, clientWidth}) => [scrollWidth, clientWidth])(document.documentElement)"
        )
        assert wide <= room, f"{name}: {wide} px of {room} px: it scrolls sideways"

    def picture(self, name: str) -> None:
        """Leave a picture, where pictures are wanted."""
        if pictures := os.environ.get("PAGE_PICTURES"):
            self.page.screenshot(path=str(Path(pictures) / f"{name}.png"), full_page=True)


@dataclass
class Rig:
    """A world, a server of its page, and a browser."""

    world: World
    serving: Serving
    browser: Browser

    @contextmanager
    def page(self, width: int = 1_280, **how: Any) -> Iterator[Shown]:
        """Open a window of its own."""
        context = self.browser.new_context(viewport={"width": width, "height": 900}, **how)
        context.set_default_timeout(PATIENCE_MS)
        shown = Shown(context.new_page(), f"http://127.0.0.1:{self.serving.port}/")
        shown.page.on(
            "console",
            lambda said: shown.wrong.append(said.text) if said.type in {"error", "warning"} else None,
        )
        shown.page.on("pageerror", lambda error: shown.wrong.append(str(error)))
        shown.page.on("requestfailed", lambda one: shown.wrong.append(f"failed: {one.url}"))
        yield shown
        context.close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    path = chromium_path()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def rig(browser: Browser) -> Iterator[Rig]:
    world = World()
    serving = Serving(Listen("127.0.0.1", 0), world.application())
    yield Rig(world, serving, browser)
    serving.close()


def well(world: World) -> None:
    """Let there be a past with an alarm, over now."""
    world.events = (
        event(1, "raised", "water high", NOW_S - 30_000.0),
        event(2, "returned", "water high", NOW_S - 24_000.0),
    )


def alarmed(world: World) -> None:
    world.warns()


def late(world: World) -> None:
    world.boot_s = 1_030.0


def silent(world: World) -> None:
    world.warns()
    world.falls_silent()


def missing(world: World) -> None:
    world.loses_its_file()


def schedule(world: World) -> None:
    world.read = status(
        water=None,
        mode="schedule",
        show_temperatures_in="°F",
        cutoff={"state": "tripped", "permits": False, "why": "the water was too cold", "age_s": 1.0},
        findings=[{"severity": "warning", "what": "the clock is not known to be right", "mend": "set it"}],
    )


@pytest.mark.parametrize(
    ("name", "scene", "where", "title"),
    [
        ("day", well, "", "OK 26.1 °C - Lagoon"),
        ("week", alarmed, "?span=7d", "ALARM 28.9 °C - Lagoon"),
        ("year", well, "?span=year", "OK 26.1 °C - Lagoon"),
        ("late", late, "?span=90d", "LATE 26.1 °C - Lagoon"),
        ("silent", silent, "", "NOT LIVE - Lagoon"),
        ("missing", missing, "?span=season", "NOT LIVE - Lagoon"),
        ("schedule", schedule, "", "LOOK - Lagoon"),
    ],
)
def test_each_scene_on_a_telephone_and_on_a_desk_by_day_and_by_night(
    rig: Rig, name: str, scene: Callable[[World], None], where: str, title: str
) -> None:
    scene(rig.world)
    with rig.page() as shown:
        shown.go(where)
        expect(shown.page).to_have_title(title)
        shown.page.locator("details").last.evaluate("one => { one.open = true; }")
        for width, scheme in VIEWS if name == "week" else VIEWS[:2]:
            shown.page.set_viewport_size({"width": width, "height": 900})
            shown.page.emulate_media(color_scheme=scheme)
            for drawing, visible in (("wide", width > 700), ("narrow", width < 700)):
                assert shown.page.locator(f".chart.{drawing}").is_visible() is visible
            shown.sound(f"{name}-{width}-{scheme}")


@pytest.mark.parametrize("scene", [alarmed, silent])
def test_without_scripts_all_of_it_is_there(rig: Rig, scene: Callable[[World], None]) -> None:
    scene(rig.world)
    with rig.page(320, java_script_enabled=False) as shown:
        shown.go()
        page = shown.page
        assert page.locator(".chart.narrow svg").is_visible()
        assert page.get_by_text("Point at a moment").is_hidden()
        page.get_by_text("The same in numbers").click()
        assert page.get_by_role("table").last.locator("tbody tr").count() >= 24
        assert page.locator('meta[http-equiv="refresh"]').count() == 1
        # axe needs scripts; the same markup is judged with them, above.
        shown.fits(scene.__name__)
        shown.picture(f"bare-320-{scene.__name__}")
        assert not shown.wrong
        page.get_by_role("link", name="7 days").click()
        expect(page.get_by_role("heading", name="The last 7 days")).to_be_visible()


def test_a_finger_reads_values_off_the_chart(rig: Rig) -> None:
    with rig.page(360, has_touch=True) as shown:
        shown.go()
        page = shown.page
        chart = page.locator(".chart.narrow")
        chart.scroll_into_view_if_needed()
        box = chart.bounding_box()
        assert box is not None
        left, right = (float(chart.get_attribute(f"data-{side}") or "nan") for side in ("left", "right"))
        page.touchscreen.tap(box["x"] + box["width"] * (left + right) / 2.0, box["y"] + box["height"] * 0.3)
        reading = page.locator("#reading")
        # Half a day ago: twelve hours before 15:05 by the tank's clock, in steps of five minutes.
        expect(reading).to_contain_text("Mon 14 Jul 03:0")
        expect(reading).to_contain_text("display 26.")
        expect(reading).to_contain_text("chiller off")
        cross = chart.locator(".cross").bounding_box()
        assert cross is not None
        assert cross["x"] == pytest.approx(box["x"] + box["width"] * (left + right) / 2.0, abs=2.0)


def test_keys_read_values_too_and_a_gap_is_said(rig: Rig) -> None:
    with rig.page() as shown:
        shown.go()
        slider = shown.page.get_by_role("slider")
        slider.focus()
        slider.press("Home")
        expect(shown.page.locator("#reading")).to_contain_text("Sun 13 Jul 15:05")
        slider.press("ArrowRight")
        expect(shown.page.locator("#reading")).to_contain_text("Sun 13 Jul 15:10")
        assert "display 27" in (slider.get_attribute("aria-valuetext") or "")
        # Without readings from 13.2 h to 14.2 h after the beginning.
        slider.evaluate("one => { one.value = 164; one.dispatchEvent(new Event('input')); }")
        expect(shown.page.locator("#reading")).to_contain_text("display \N{EN DASH}")


def test_focus_can_be_seen_and_goes_in_order(rig: Rig) -> None:
    with rig.page() as shown:
        shown.go()
        names = []
        for _ in range(5):
            shown.page.keyboard.press("Tab")
            name, outline = shown.page.evaluate(
                "[document.activeElement.textContent, getComputedStyle(document.activeElement).outlineStyle]"
            )
            names.append(name)
            assert outline == "solid"
        assert names == ["24 hours", "7 days", "90 days", "half year", "year"]


def test_it_stays_of_now_by_itself(rig: Rig) -> None:
    with rig.page() as shown:
        shown.page.clock.install()
        shown.go()
        rig.world.warns()
        shown.page.clock.run_for(16_000)
        expect(shown.page).to_have_title("ALARM 28.9 °C - Lagoon")
        expect(shown.page.get_by_role("heading", name="water far too high")).to_be_visible()
        expect(shown.page.get_by_role("status").first).to_contain_text("Alarms: water far too high")
        rig.world.falls_silent()
        shown.page.clock.run_for(16_000)
        expect(shown.page).to_have_title("NOT LIVE - Lagoon")
        shown.sound("silent-by-itself")


def test_a_page_that_loses_the_tank_says_so_loudly_and_finds_it_again(rig: Rig) -> None:
    with rig.page(360) as shown:
        page = shown.page
        page.clock.install()
        shown.go()
        page.route("**/now", lambda route: route.abort())
        page.clock.run_for(16_000)
        expect(page).to_have_title("NOT LIVE - Lagoon")
        expect(page.get_by_role("alert")).to_contain_text("this page has lost the tank")
        expect(page.get_by_role("alert")).to_contain_text("the water was 26.1 °C then")
        expect(page.locator(".water .value")).to_have_text("\N{EN DASH}")
        assert shown.wrong
        shown.wrong.clear()
        shown.sound("lost-360")
        page.unroute("**/now")
        page.clock.run_for(16_000)
        expect(page).to_have_title("OK 26.1 °C - Lagoon")
        expect(page.get_by_role("alert")).to_be_hidden()
        expect(page.locator(".water .value")).to_have_text("26.1")


def test_an_answer_that_never_comes_is_a_tank_that_is_lost(rig: Rig) -> None:
    held: list[Route] = []
    with rig.page() as shown:
        shown.page.clock.install()
        shown.go()
        shown.page.route("**/now", lambda route: held.append(route))  # noqa: PLW0108  a method of a list takes no marks
        shown.page.clock.run_for(45_000)
        expect(shown.page).to_have_title("NOT LIVE - Lagoon")
        for route in held:
            route.abort()


def test_less_motion_for_who_wants_less(rig: Rig) -> None:
    with rig.page(reduced_motion="reduce") as shown:
        shown.go()
        moving = shown.page.evaluate(
            "[...document.querySelectorAll('*')].filter(one => {const style = getComputedStyle(one);"
            "return style.animationName !== 'none' || parseFloat(style.transitionDuration) > 0;}).length"
        )
        assert moving == 0
