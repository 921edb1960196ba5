"""Picks the devices: the machine's own, or a bench's when the environment names one."""

from collections.abc import Callable
from pathlib import Path

from gpiozero.pins import Factory

from reefguard.cli.status_page import is_number
from reefguard.guard.proof_tests import ProofTestWatch
from reefguard.guard.world import World
from reefguard.hardware.gpio import open_factory
from reefguard.hardware.inputs import Contact
from reefguard.hardware.outputs import Relay, open_fan
from reefguard.hardware.ports import Clock, Output
from reefguard.hardware.probes import BackgroundProbes
from reefguard.hardware.service import NotifySocket
from reefguard.records import commissioning_log, status_file
from reefguard.settings.model import SensedInput, Settings
from reefguard.vocabulary import CutoffReport


def open_world(settings: Settings, clock: Clock) -> World:
    """Open every device the settings name; each output stands at its safe level from its first instant.

    Raises:
        HardwareUnavailable: one of them cannot be used, and why.
    """
    factory = open_factory()
    outputs: dict[str, Output] = {}
    # The chiller first: until its pin is claimed, a relay left on by a crash stays on.
    chiller = settings.chiller
    if chiller is not None:
        outputs["chiller"] = Relay("chiller", chiller.wiring, factory)
    if settings.fans is not None:
        outputs |= {fan.name: open_fan(fan, factory) for fan in settings.fans.fans}
    records = commissioning_log.directory_in(Path(settings.state_directory))
    return World(
        clock=clock,
        outputs=outputs,
        lights=_contact("lights.sense", settings.lights.sense, factory),
        chiller_running=_contact(
            "chiller.running_input", None if chiller is None else chiller.running_input, factory
        ),
        flow=_contact("chiller.flow_input", None if chiller is None else chiller.flow_input, factory),
        cutoff=_cutoff_reader(settings, clock),
        proof_tests=ProofTestWatch(records, clock).latest if _is_proof_tested(settings) else lambda: None,
        service=NotifySocket(),
        probes=BackgroundProbes(
            settings.water_probes,
            settings.room_air,
            one_wire_directory=Path(settings.one_wire_directory),
            sampling_s=settings.sampling_s,
            clock=clock,
        ),
    )


def _is_proof_tested(settings: Settings) -> bool:
    chiller = settings.chiller
    return chiller is not None and chiller.cutoff_status is not None


def _contact(name: str, sensed: SensedInput | None, factory: Factory) -> Contact | None:
    return None if sensed is None else Contact(name, sensed, factory)


def _cutoff_reader(settings: Settings, clock: Clock) -> Callable[[], CutoffReport | None]:
    if settings.chiller is None or settings.chiller.cutoff_status is None:
        return lambda: None
    path = Path(settings.chiller.cutoff_status)
    return lambda: read_cutoff(path, clock)


def read_cutoff(path: Path, clock: Clock) -> CutoffReport | None:
    """Return the cutoff's report, or `None` when there is none of this boot that can be understood."""
    status = status_file.read(path)
    if not isinstance(status, dict) or status.get("boot_id") != clock.boot_id():
        return None
    written_s = status.get("written_s")
    if not is_number(written_s):
        return None
    if not 0.0 <= written_s <= clock.boot_s():
        # It cannot have been written after it was read: a report from the future would never grow silent.
        return None
    tested_s = status.get("proof_test_since_s")
    return CutoffReport(
        state=str(status.get("state", "")),
        # Exactly true: anything else is a report that is not understood.
        permits=status.get("permits") is True,
        why=str(status.get("why", "")),
        at_s=float(written_s),
        proof_test_since_s=float(tested_s) if is_number(tested_s) else None,
    )
