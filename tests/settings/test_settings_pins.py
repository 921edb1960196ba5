"""A pin is named so that it cannot be taken for another."""

import pytest
from gpiozero.pins.pi import PiBoardInfo

from reefguard.settings.pins import LAST_GPIO, pulled_up_at_power_on, read_pin, spoken_for
from reefguard.settings.quantities import MisreadError

# gpiozero's own description of the header of a Raspberry Pi 3B (revision a02082).
HEADER = PiBoardInfo.from_revision(0xA02082).headers["J8"].pins
SAID_HERE = {"3V3": "3.3 V", "5V": "5 V", "GND": "ground"}


@pytest.mark.parametrize("position", range(1, 41))
def test_every_position_of_the_header_is_what_gpiozero_says(position: int) -> None:
    name = HEADER[position].name
    if name in SAID_HERE:
        with pytest.raises(
            MisreadError, match=f"position {position} of the header is {SAID_HERE[name]}, no GPIO"
        ):
            read_pin(f"header {position}")
    else:
        assert f"GPIO{read_pin(f'header {position}')}" == name


@pytest.mark.parametrize("gpio", range(LAST_GPIO + 1))
def test_every_gpio_of_the_header_is_read(gpio: int) -> None:
    assert read_pin(f"GPIO{gpio}") == gpio


@pytest.mark.parametrize(
    ("text", "why", "mend"),
    [
        ("17", "a bare number", "write `GPIO17` (position 11)"),
        ("017", "a bare number", "write `GPIO17` (position 11)"),
        ("11", "a bare number", "write `GPIO11` (position 23) or `header 11` (GPIO17)"),
        ("40", "a bare number", "write `header 40` (GPIO21)"),
        ("99", "a bare number", "write `GPIO17` or `header 11`"),
        ("GPIO28", "GPIO0 to GPIO27", "write the pin the wire is on"),
        ("header 0", "positions 1 to 40", "counted from the corner"),
        ("header 41", "positions 1 to 40", "counted from the corner"),
        ("gpio17", "in capitals", "write `GPIO17`"),
        ("GPIO 17", "in capitals", "write `GPIO17`"),
        ("GPIO017", "in capitals", "write `GPIO17`"),
        ("BCM17", "not a pin", "write `GPIO17`, or `header 11`"),
        ("-4", "not a pin", "write `GPIO17`, or `header 11`"),
        ("GPIO4 GPIO5", "not a pin", "write `GPIO17`, or `header 11`"),
    ],
)
def test_what_is_no_pin_is_told_why_and_what_to_write(text: str, why: str, mend: str) -> None:
    with pytest.raises(MisreadError) as caught:
        read_pin(text)
    assert why in caught.value.why
    assert mend in caught.value.mend


def test_pulls_are_those_of_the_broadcom_table() -> None:
    # BCM2835 ARM Peripherals, table 6-31, column "Pull": GPIO0-8 high, GPIO9-27 low.
    assert [gpio for gpio in range(28) if pulled_up_at_power_on(gpio)] == list(range(9))


def test_pins_with_another_use_are_those_gpiozero_lists() -> None:
    """The buses that are there without asking; other functions of a pin must be switched on."""
    buses = {"spi": set(range(7, 12)), "i2c": {0, 1, 2, 3}, "uart": {14, 15}}
    for use, gpios in buses.items():
        listed = {
            read_pin(pin.name) for pin in HEADER.values() if use in pin.interfaces and "GPIO" in pin.name
        }
        assert gpios <= listed
    assert spoken_for(1) == spoken_for(0) != spoken_for(2) == spoken_for(3)
    spoken = {gpio for gpio in range(28) if spoken_for(gpio) is not None}
    assert spoken == set().union(*buses.values())
