"""Checks of the board: boot configuration, pins and their device, the watchdog."""

from collections.abc import Iterator
from typing import Final

from reefguard.commissioning import boot_config
from reefguard.commissioning.host import Host
from reefguard.settings.model import Settings
from reefguard.settings.pins import pulled_up_at_power_on
from reefguard.vocabulary import Finding, Severity

_CONFIG: Final = "/boot/firmware/config.txt"
# Drivers' name for their own claims: lgpio's default.
_OURS: Final = "lg"
# A BCM2835's watchdog counts 16 s at most; longer settings fail or are cut to the remainder
# (raspberrypi/linux, bcm2835_wdt.c; systemd issue 27427).
_LONGEST_WATCHDOG_S: Final = 15.0


def overlay(host: Host) -> Iterator[Finding]:
    """The 1-wire buses are those that the settings name, and the kernel has them."""
    settings = host.settings
    if host.boot_config is None or settings is None or not _reads_the_kernels_bus(settings):
        return
    pins = boot_config.read(host.boot_config, host.model).one_wire_pins()
    for pin in sorted(set(settings.one_wire_pins) - set(pins)):
        yield Finding(
            Severity.CRITICAL,
            "overlay",
            f"the settings name a 1-wire bus on GPIO{pin}, and the boot configuration has none there",
            f"add `dtoverlay=w1-gpio,gpiopin={pin}` to {_CONFIG}, and restart the Pi",
        )
    for pin in sorted(set(pins) - set(settings.one_wire_pins)):
        yield Finding(
            Severity.WARNING,
            "overlay",
            f"the boot configuration has a 1-wire bus on GPIO{pin}, and `one_wire_pins` does not name it",
            f"add GPIO{pin} to `one_wire_pins`, so that no output is ever put on it",
        )
    if host.bus is not None and host.bus.masters is not None and host.bus.masters < len(set(pins)):
        yield Finding(
            Severity.CRITICAL,
            "overlay",
            f"the boot configuration asks for {len(set(pins))} 1-wire buses, "
            f"and the kernel has {host.bus.masters}",
            "restart the Pi; if that does not help, see `dmesg | grep w1`",
        )


def shared_bus(host: Host) -> Iterator[Finding]:
    """The cutoff's probe has a bus of its own."""
    if host.settings is None or host.cutoff is None or not _reads_the_kernels_bus(host.settings):
        return
    if host.is_pi and len(set(host.settings.one_wire_pins)) < 2:
        yield Finding(
            Severity.WARNING,
            "shared bus",
            "all probes hang on one 1-wire bus: a single shorted probe blinds guard and cutoff alike",
            f"give the cutoff's probe a bus of its own: a second `dtoverlay=w1-gpio,gpiopin=N` in {_CONFIG}",
        )


def strict_gpiod(host: Host) -> Iterator[Finding]:
    """A pin falls back to its pull when the program that drove it is gone."""
    if host.boot_config is None:
        return
    if boot_config.read(host.boot_config, host.model).is_on("strict_gpiod"):
        return
    if any(word.endswith("persist_gpio_outputs=n") for word in host.kernel_command_line.split()):
        return
    yield Finding(
        Severity.CRITICAL,
        "strict_gpiod",
        "the kernel keeps an output at its last level when the program that drove it has died: "
        "a chiller that was on would stay on",
        f"add `dtparam=strict_gpiod` to {_CONFIG}, and restart the Pi",
    )


def polarity(host: Host) -> Iterator[Finding]:
    """No relay is energised from power-on until its program has started."""
    for name, pin, active_high in _relays(host):
        if pulled_up_at_power_on(pin) is not active_high:
            continue
        better = "9 to 27" if active_high else "5 or 6"
        yield Finding(
            Severity.WARNING,
            "polarity",
            f"GPIO{pin} ({name}) is pulled {'up' if active_high else 'down'} from power-on until a program "
            "drives it, which may energise its relay",
            f"use GPIO {better}, and a 10 kΩ resistor that pulls the relay's input to off",
        )


def pin_taken(host: Host) -> Iterator[Finding]:
    """Nobody else holds a pin of ours."""
    if host.lines is None:
        return
    running = {"guard": host.guard is not None and host.guard.fresh}
    running["cutoff"] = host.cutoff_says is not None and host.cutoff_says.fresh
    for name, pin, owner in _pins(host):
        line = host.lines.get(pin)
        if line is None or not line.used or (line.consumer == _OURS and running[owner]):
            continue
        holder = f"`{line.consumer}`" if line.consumer else "something that gives no name"
        yield Finding(
            Severity.CRITICAL,
            "pin taken",
            f"GPIO{pin} ({name}) is held by {holder}, not by the {owner}",
            "stop that program, or take its overlay out of the boot configuration (see `gpioinfo`)",
        )
    seen: dict[int, str] = {}
    for name, pin, _ in _pins(host):
        if pin in seen and {name, seen[pin]} & {"the cutoff's relay"}:
            yield Finding(
                Severity.CRITICAL,
                "pin taken",
                f"GPIO{pin} is both {seen[pin]} and {name}: guard and cutoff would share one relay",
                "give the cutoff a relay and a pin of its own",
            )
        seen[pin] = name


def gpio_device(host: Host) -> Iterator[Finding]:
    """The services may use the pins."""
    if not host.is_pi:
        return
    if host.chip is None:
        yield Finding(
            Severity.CRITICAL,
            "gpio device",
            "the header's GPIO chip is not there",
            "see `ls -l /dev/gpiochip*`, and use a kernel of Raspberry Pi OS",
        )
        return
    if host.groups is not None and "gpio" not in host.groups:
        yield Finding(
            Severity.CRITICAL,
            "gpio device",
            "there is no group `gpio`, which the services need to reach the pins",
            "run `sudo systemd/install` again",
        )
        return
    if host.chip.group != "gpio" or host.chip.mode & 0o060 != 0o060:
        yield Finding(
            Severity.CRITICAL,
            "gpio device",
            f"{host.chip.path} belongs to the group `{host.chip.group}` with mode {host.chip.mode:o}: "
            "services of the group `gpio` cannot use it",
            'add a udev rule: `SUBSYSTEM=="gpio", GROUP="gpio", MODE="0660"`, and restart the Pi',
        )


def watchdog(host: Host) -> Iterator[Finding]:
    """A Pi that hangs restarts by itself."""
    if host.watchdog_s is None or not host.is_pi:
        return
    if host.watchdog_s == 0.0:
        yield Finding(
            Severity.WARNING,
            "watchdog",
            "the hardware watchdog is off: a Pi that hangs stays so, with its pins as they were",
            "write `RuntimeWatchdogSec=14` into /etc/systemd/system.conf.d/watchdog.conf, and restart the Pi",
        )
    elif host.watchdog_s > _LONGEST_WATCHDOG_S:
        yield Finding(
            Severity.WARNING,
            "watchdog",
            f"the hardware watchdog is set to {host.watchdog_s:g} s, "
            "and the Pi's counts 15 s at most: it may be off",
            "write `RuntimeWatchdogSec=14` into /etc/systemd/system.conf.d/watchdog.conf, and restart the Pi",
        )


def _reads_the_kernels_bus(settings: Settings) -> bool:
    return settings.one_wire_directory == "/sys/bus/w1/devices"


def _relays(host: Host) -> Iterator[tuple[str, int, bool]]:
    settings = host.settings
    if settings is not None and settings.fans is not None:
        for fan in settings.fans.fans:
            yield fan.name, fan.wiring.pin, fan.wiring.active_high
    if settings is not None and settings.chiller is not None:
        yield "the chiller's relay", settings.chiller.wiring.pin, settings.chiller.wiring.active_high
    if host.cutoff is not None:
        yield "the cutoff's relay", host.cutoff.relay_pin, host.cutoff.relay_active_high


def _pins(host: Host) -> Iterator[tuple[str, int, str]]:
    """Return every pin of ours: what is on it, its number, and whose it is."""
    for name, pin, _ in _relays(host):
        yield name, pin, "cutoff" if name == "the cutoff's relay" else "guard"
    settings = host.settings
    if settings is None:
        return
    chiller = settings.chiller
    sensed = {
        "the lights' input": settings.lights.sense,
        "the running feedback": None if chiller is None else chiller.running_input,
        "the flow switch": None if chiller is None else chiller.flow_input,
    }
    for name, contact in sensed.items():
        if contact is not None:
            yield name, contact.pin, "guard"


CHECKS: Final = {
    "1-wire overlays": overlay,
    "1-wire bus of the cutoff": shared_bus,
    "strict_gpiod": strict_gpiod,
    "polarity and power-on pull": polarity,
    "pins taken by others": pin_taken,
    "GPIO device and group": gpio_device,
    "hardware watchdog": watchdog,
}
