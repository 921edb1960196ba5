"""Where a stage starts and stops, however the file puts it."""

from dataclasses import dataclass

from reefguard.settings.sheet import Sheet, Written

STAGES = ("fans", "chiller")


@dataclass(frozen=True, slots=True)
class StageCut:
    """The two temperatures of a stage, °C, each with its place in the file."""

    start: Written[float]
    stop: Written[float]


def cut_points(sheet: Sheet, stage: str) -> StageCut | None:
    """Return where the stage starts and stops, or `None` when the sheet does not tell."""
    cut_in = sheet.of(f"{stage}.cut_in", float)
    cut_out = sheet.of(f"{stage}.cut_out", float)
    if cut_in and cut_out:
        return StageCut(cut_in, cut_out)
    setpoint = sheet.of(f"{stage}.setpoint", float)
    differential = sheet.of(f"{stage}.differential", float)
    if setpoint and differential:
        # Rounded, so that 26.2 and 0.4 make the same 26.6 as a person would write.
        start_c = round(setpoint.value + differential.value, 6)
        start = Written(differential.key, start_c, differential.text, differential.place)
        return StageCut(start, setpoint)
    return None
