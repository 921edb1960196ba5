"""`reefguard calibrate` and `reefguard probes` at a terminal, over a bench's probes."""

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_rig import Rig, no_traceback
from on_terminal import Terminal

from reefguard.commissioning.record import CALIBRATION, PROBES, Record
from reefguard.records import commissioning_log
from reefguard.rehearsal.bench import CUTOFF_ID, DISPLAY_ID, SUMP_ID
from reefguard.rehearsal.bench_wire import BenchProbe, register_of, scratchpad, w1_slave


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    with Rig(tmp_path, 120.0) as rig:
        rig.water(26.25)
        yield rig


def run(rig: Rig, *arguments: str) -> Terminal:
    return Terminal(sys.executable, "-m", "reefguard", *arguments, env=rig.environment())


def on_record(rig: Rig) -> list[Record]:
    return list(commissioning_log.read(commissioning_log.directory_in(rig.bench.state)))[1:]


REFERENCE = "What does the reference read, with its unit?"
RIGHT = "is that right?"
ICE = "Try the ice point too?"


def test_an_offset_is_found_and_only_printed(rig: Rig) -> None:
    before = rig.bench.settings.read_bytes()
    with run(rig, "calibrate", "display") as terminal:
        terminal.read_until("steady at 26.25 °C")
        terminal.answer(REFERENCE, "26")
        terminal.read_until("a bare number; its unit is missing")
        terminal.answer(REFERENCE, "2.6 °C")
        terminal.answer(RIGHT, "n")
        terminal.answer(REFERENCE, "79.0 °F")
        terminal.answer(RIGHT, "")
        terminal.answer(ICE, "n")
        assert terminal.close() == 0, terminal.seen
    assert f"display: {{id: {DISPLAY_ID}, offset: -0.14 °C}}" in terminal.seen
    assert no_traceback(terminal.seen)
    assert rig.bench.settings.read_bytes() == before
    (record,) = on_record(rig)
    assert (record.kind, record.subject, record.outcome) == (CALIBRATION, "display", "passed")
    assert record.details["raw_c"] == 26.25
    assert record.details["offset_c"] == -0.14
    # What is printed is what the settings take.
    rig.settings((f"display: {{id: {DISPLAY_ID}}}", f"display: {{id: {DISPLAY_ID}, offset: -0.14 °C}}"))
    assert rig.command("check", str(rig.bench.settings)).returncode < 2


def test_the_cutoffs_probe_and_the_ice_point(rig: Rig) -> None:
    with run(rig, "calibrate", "cutoff") as terminal:
        terminal.answer(REFERENCE, "26.5 °C")
        terminal.answer(RIGHT, "y")
        terminal.answer(ICE, "y")
        terminal.read_until("Press Enter once it is in the ice")
        rig.cutoff_probe.show(-3.0)
        terminal.type("\n")
        assert terminal.close() == 0, terminal.seen
    assert "in melting ice it reads -2.75 °C" in terminal.seen
    assert "probe_offset: 0.25 °C" in terminal.seen
    # Whoever goes home after that must know that nothing chills any more.
    assert terminal.seen.index("the cutoff trips, and holds the chiller off") < terminal.seen.index(ICE)
    assert "with the probe back in warm water: reefguard cutoff reset" in terminal.seen
    assert on_record(rig)[-1].details["ice_c"] == -3.0


def test_an_offset_is_not_lost_to_an_ice_point_that_never_came_to_rest(rig: Rig) -> None:
    with run(rig, "calibrate", "display") as terminal:
        terminal.answer(REFERENCE, "26.5 °C")
        terminal.answer(RIGHT, "y")
        terminal.answer(ICE, "y")
        terminal.read_until("Press Enter once it is in the ice")
        rig.display.show_nothing()
        terminal.type("\n")
        assert terminal.close() == 0, terminal.seen
    assert "no ice point: the probe did not come to rest" in terminal.seen
    assert "offset: 0.25 °C" in terminal.seen
    (record,) = on_record(rig)
    assert record.details["offset_c"] == 0.25
    assert record.details["ice_says"] == "it did not come to rest"


def test_a_probe_off_by_more_than_a_degree_is_refused(rig: Rig) -> None:
    with run(rig, "calibrate", "sump") as terminal:
        terminal.answer(REFERENCE, "25.0 °C")
        terminal.answer(RIGHT, "y")
        assert terminal.close() == 2, terminal.seen
    assert "replace the probe" in terminal.seen
    assert on_record(rig)[-1].outcome == "failed"


def test_water_outside_25_to_27_is_no_place_for_an_offset(rig: Rig) -> None:
    rig.water(28.0)
    with run(rig, "calibrate", "display") as terminal:
        terminal.answer(REFERENCE, "28.0 °C")
        terminal.answer(RIGHT, "y")
        assert terminal.close() == 1, terminal.seen
    assert "bring the water to 25 to 27 °C" in terminal.seen
    assert on_record(rig) == []


def test_water_that_drifts_is_waited_for(rig: Rig) -> None:
    with run(rig, "calibrate", "display") as terminal:
        terminal.read_until("Waiting until it has moved")
        warmer_c = 26.25
        while "it moved by" not in terminal.seen:
            warmer_c += 0.25
            rig.display.show(min(warmer_c, 60.0))
            terminal.read_until("\n")
        terminal.answer(REFERENCE, "26.5 °C")
        terminal.interrupt()
        assert terminal.close() in {1, 2, 130}


@pytest.mark.parametrize("question", ["Waiting until it has moved", REFERENCE, RIGHT, ICE])
def test_an_interrupt_leaves_nothing_on_record(rig: Rig, question: str) -> None:
    with run(rig, "calibrate", "display") as terminal:
        for asked, typed in [(REFERENCE, "26.3 °C"), (RIGHT, "y"), (ICE, "")]:
            if question in {"Waiting until it has moved", asked}:
                break
            terminal.answer(asked, typed)
        terminal.read_until(question)
        terminal.interrupt()
        assert terminal.close() == 130, terminal.seen
    assert "stopped; nothing is on record" in terminal.seen
    assert on_record(rig) == []


def test_a_probe_that_does_not_answer_is_told(tmp_path: Path) -> None:
    # Half an hour's patience, in a few seconds.
    with Rig(tmp_path, 600.0) as rig:
        rig.display.show_nothing()
        with run(rig, "calibrate", "display") as terminal:
            terminal.read_until("the kernel's file is empty")
            assert terminal.close() == 1, terminal.seen
        assert "did not come to rest" in terminal.seen
        assert "name one of display, sump, cutoff" in rig.command("calibrate", "room air").stderr


def test_probes_are_listed_with_what_is_seen_of_them(rig: Rig) -> None:
    well = rig.command("probes")
    assert well.returncode == 0, well
    assert f"{CUTOFF_ID}  bus ?  26.25 °C, 12 bit, supply unknown  cutoff" in well.stdout
    (rig.bench.bus / DISPLAY_ID / "ext_power").write_text("0\n")
    (rig.bench.bus / CUTOFF_ID / "ext_power").write_text("1\n")
    clone = BenchProbe(rig.bench.bus, "28-f296cd1d64ff")
    clone.write(w1_slave(scratchpad(register_of(25.0), byte_6=0x0C)).encode())
    rig.sump.show_nothing()
    (rig.bench.bus / "w1_bus_master1" / DISPLAY_ID).mkdir(parents=True)
    ill = rig.command("probes")
    assert ill.returncode == 1
    assert f"{DISPLAY_ID}  bus 1  26.25 °C, 12 bit, parasite power  display" in ill.stdout
    assert "connect its supply wire" in ill.stdout
    assert "28-f296cd1d64ff  bus ?  25.00 °C, 12 bit, supply unknown  named by nobody" in ill.stdout
    assert "its serial number is none of the maker's" in ill.stdout
    assert f"{SUMP_ID}  bus ?  no reading, resolution unknown, supply unknown  sump" in ill.stdout
    assert "the kernel's file is empty" in ill.stdout


def test_the_probe_in_the_hand_is_named(rig: Rig) -> None:
    with run(rig, "probes", "--warm") as terminal:
        terminal.read_until("watching 4 probes")
        rig.sump.show(30.0)
        terminal.read_until(f"that is {SUMP_ID}")
        terminal.answer("Its name (Enter: none)", "1st one")
        terminal.answer("Its name (Enter: none)", "back")
        terminal.answer("Another one?", "y")
        terminal.read_until("watching 4 probes")
        rig.display.show(31.0)
        terminal.answer("Its name (Enter: none)", "")
        terminal.answer("Another one?", "n")
        assert terminal.close() == 0, terminal.seen
    assert f"back: {{id: {SUMP_ID}}}" in terminal.seen
    (record,) = on_record(rig)
    assert (record.kind, record.details) == (PROBES, {"named": {SUMP_ID: "back"}})


def test_settings_that_are_not_done_yet_get_their_names_from_it(rig: Rig) -> None:
    whole = rig.bench.settings.read_text("utf-8")
    rig.bench.settings.write_text(whole.replace(DISPLAY_ID, "YOURS"), "utf-8")
    listed = rig.command("probes")
    assert listed.returncode == 1
    assert f"{DISPLAY_ID}  bus ?  26.25 °C, 12 bit, supply unknown  named by nobody" in listed.stdout
    assert f"{CUTOFF_ID}  bus ?  26.25 °C, 12 bit, supply unknown  cutoff" in listed.stdout
    assert "cannot be used yet, so it names none of them; see `reefguard check`" in listed.stdout
    with run(rig, "probes", "--warm") as terminal:
        terminal.read_until("watching 4 probes")
        rig.display.show(30.0)
        terminal.answer("Its name (Enter: none)", "display")
        terminal.answer("Another one?", "n")
        assert terminal.close() == 1, terminal.seen
    assert f"display: {{id: {DISPLAY_ID}}}" in terminal.seen
    assert on_record(rig) == []
    rig.bench.settings.write_text(whole.replace("one_wire", "one-wire"), "utf-8")
    (rig.bench.directory / "cutoff.yaml").unlink()
    listed = rig.command("probes")
    assert listed.returncode == 1
    assert listed.stdout.count("named by nobody") == 4


@pytest.mark.parametrize("question", ["watching 4 probes", "Its name", "Another one?"])
def test_an_interrupt_while_warming_leaves_nothing_on_record(rig: Rig, question: str) -> None:
    with run(rig, "probes", "--warm") as terminal:
        terminal.read_until("watching 4 probes")
        if question != "watching 4 probes":
            rig.sump.show(30.0)
            terminal.read_until("Its name")
            if question == "Another one?":
                terminal.type("back\n")
                terminal.read_until(question)
        terminal.interrupt()
        assert terminal.close() == 130, terminal.seen
    assert on_record(rig) == []


def test_without_probes_it_says_where_it_looked(rig: Rig) -> None:
    rig.bench.bus.rename(rig.bench.directory / "gone")
    done = rig.command("probes")
    assert done.returncode == 1
    assert "no probe is on any bus" in done.stderr
