"""`reefguard calibrate PROBE`: find a probe's offset beside a reference thermometer."""

import sys
from pathlib import Path
from typing import Final

import click

from reefguard.cli.conversation import Ended, NotPossible, agreed, ending_in_words, tell, typed_for
from reefguard.cli.file_options import limits_option, settings_option
from reefguard.cli.running_tank import RunningTank, open_tank
from reefguard.cli.wire import CUTOFF, Named, look_again, named_probes, watched
from reefguard.commissioning.calibration import (
    STEADY_FOR_S,
    STEADY_WITHIN_C,
    Found,
    NotYet,
    Refused,
    Sampled,
    Steady,
    ice_point,
    offset,
    steadiness,
)
from reefguard.commissioning.record import CALIBRATION, FAILED, PASSED
from reefguard.control.words import span, temperature
from reefguard.hardware.probes import BackgroundProbes
from reefguard.settings.quantities import DIFFERENCE, TEMPERATURE, MisreadError

_SAMPLING_S: Final = 5.0
_STEADY_WITHIN_S: Final = 1_800.0

# By whether it is the cutoff's: what the running programs do with a probe in ice.
_MEANWHILE: Final = {
    True: "the cutoff trips, and holds the chiller off until you reset it",
    False: "the guard takes the water for cold: it holds the chiller off until the probe is back and trusted",
}


@click.command()
@click.argument("probe")
@settings_option
@limits_option
def calibrate(probe: str, settings_file: Path, limits_file: Path) -> None:
    """Find the offset of PROBE (its name in the settings, or `cutoff`) at 25 to 27 °C.

    Prints the line to write; you write it, and nothing else is changed.
    Exit code: 0 an offset was found, 1 not done, 2 the probe is to be replaced, 130 stopped.
    """
    tank = open_tank(settings_file)
    with ending_in_words() as standing:
        standing.words = "nothing is on record"
        named = {one.name: one for one in named_probes(tank.settings, limits_file) if one.name != "room air"}
        if probe not in named:
            raise NotPossible(f"there is no probe {probe!r}; mend: name one of {', '.join(named)}")
        code = _Calibration(tank, named[probe]).made(limits_file if probe == CUTOFF else settings_file)
    sys.exit(code)


class _Calibration:
    """One probe, beside the reference."""

    def __init__(self, tank: RunningTank, probe: Named) -> None:
        self._tank = tank
        self._probe = probe
        self._seen: list[Sampled] = []
        self._unit = tank.settings.shown_in

    def made(self, file: Path) -> Ended:
        """Lead the person through it; return the exit code, once it is on record."""
        tell(f"Calibrating {self._probe.name} ({self._probe.rom_id}), raw: without the offset it has now.")
        tell("Hang a reference thermometer (calibrated, to 0.1 °C) right beside the probe, in moving water")
        tell("of 25 to 27 °C: in the tank, or in a jug of its water.  Ctrl-C ends it.")
        with watched([self._probe.rom_id], self._probe.directory, _SAMPLING_S, self._tank.clock) as probes:
            self._steady(probes)
            reference_c = self._asked_reference()
            # The water may have moved while the person was reading.
            steady = self._steady(probes)
        outcome = offset(steady, reference_c)
        if isinstance(outcome, Refused):
            return self._refused(outcome, steady, reference_c)
        return self._found(outcome, steady, reference_c, file)

    def _steady(self, probes: BackgroundProbes) -> Steady:
        """Wait until the water has been steady, saying now and then how it stands."""
        clock = self._tank.clock
        tell(f"\nWaiting until it has moved by no more than {STEADY_WITHIN_C} °C in {span(STEADY_FOR_S)} ...")
        told_s = clock.boot_s()

        def judged() -> Steady | None:
            nonlocal told_s
            cause = look_again(probes, self._probe.rom_id, self._seen)
            now_s = clock.boot_s()
            found = steadiness(self._seen, now_s)
            if isinstance(found, Steady):
                return found
            if now_s - told_s >= 60.0:
                told_s = now_s
                tell(f"  {found.why if cause is None else cause.value}")
            return None

        begun_s = clock.boot_s()
        self._seen = [one for one in self._seen if begun_s - one.at_s <= STEADY_FOR_S]
        steady = self._tank.until(judged, _STEADY_WITHIN_S)
        if steady is None:
            found = steadiness(self._seen, clock.boot_s())
            why = found.why if isinstance(found, NotYet) else "it gave no reading"
            raise NotPossible(
                f"the probe did not come to rest within {span(_STEADY_WITHIN_S)}: {why}\n"
                "  mend: move the water, keep lamps and heaters off meanwhile; see `reefguard probes`"
            )
        tell(f"  steady at {temperature(steady.mean_c, self._unit)} (raw, {steady.readings} readings)")
        return steady

    def _asked_reference(self) -> float:
        while True:
            typed = typed_for("What does the reference read, with its unit?")
            try:
                reference_c = TEMPERATURE.read(typed)
            except MisreadError as misread:
                tell(f"  {misread.why}\n  mend: {misread.mend}")
                continue
            if agreed(f"  {temperature(reference_c, self._unit)}: is that right?", likely=True):
                return reference_c

    def _refused(self, refused: Refused, steady: Steady, reference_c: float) -> Ended:
        tell(f"\nno offset: {refused.why}\n  mend: {refused.mend}")
        if not refused.broken:
            return Ended.NOT_DONE
        self._record(FAILED, refused.why, steady, {"reference_c": reference_c})
        return Ended.FAILED

    def _found(self, found: Found, steady: Steady, reference_c: float, file: Path) -> Ended:
        details: dict[str, object] = {"reference_c": reference_c, "offset_c": found.offset_c}
        written = DIFFERENCE.show(found.offset_c)
        tell(f"\nThe offset is {written}.")
        if found.caution:
            tell(f"  caution: {found.caution}")
        tell(f"\nIn ice {_MEANWHILE[self._probe.name == CUTOFF]}.")
        if agreed("Try the ice point too? (crushed ice of pure water, stirred, the probe in its middle)"):
            try:
                details |= self._iced(found.offset_c)
            except NotPossible as error:
                tell(f"  no ice point: {error}")
                details["ice_says"] = "it did not come to rest"
        what = f"offset {written}, found at {reference_c:.2f} °C"
        self._record(PASSED, what, steady, details)
        tell(f"\nWrite this into {file}; nothing was changed:\n")
        if self._probe.name == CUTOFF:
            tell(f"    probe_offset: {written}\n")
            tell("then: reefguard cutoff check, and sudo systemctl restart reefguard-cutoff")
            if "ice_says" in details:
                tell("and, with the probe back in warm water: reefguard cutoff reset")
        else:
            tell("    water_probes:")
            tell(f"      {self._probe.name}: {{id: {self._probe.rom_id}, offset: {written}}}\n")
            tell("then: reefguard check, and sudo systemctl reload reefguard")
        return Ended.PASSED

    def _iced(self, offset_c: float) -> dict[str, object]:
        tell("Leave it there until it has come to rest.")
        with watched([self._probe.rom_id], self._probe.directory, _SAMPLING_S, self._tank.clock) as probes:
            self._seen = []
            typed_for("Press Enter once it is in the ice", likely="")
            steady = self._steady(probes)
        wrong = ice_point(steady.mean_c, offset_c)
        tell(f"  {wrong}: think of replacing it" if wrong else "  in order")
        return {"ice_c": round(steady.mean_c, 4), "ice_says": wrong}

    def _record(self, outcome: str, what: str, steady: Steady, details: dict[str, object]) -> None:
        measured = {
            "rom_id": self._probe.rom_id,
            "raw_c": round(steady.mean_c, 4),
            "readings": steady.readings,
        }
        self._tank.put_on_record(CALIBRATION, self._probe.name, outcome, what, measured | details)
