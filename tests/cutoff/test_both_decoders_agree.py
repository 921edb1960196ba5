"""Two decoders, written apart, agree on every register: to mislead both, a bug would need two authors."""

import math
import os

from cutoff_bench import w1_text

from reefguard.cutoff.ds18b20 import crc8, temperature_c

# Before the import, which would run modprobe.
os.environ["W1THERMSENSOR_NO_KERNEL_MODULE"] = "1"

from w1thermsensor import Sensor, Unit
from w1thermsensor.core import evaluate_temperature


# The library behind the guard's probes leaves undefined bits in, so 12 bit is what can be compared.
def test_all_registers_against_the_library_behind_the_guard() -> None:
    for register in range(0x10000):
        lsb, msb = register & 0xFF, register >> 8
        octets = bytes((lsb, msb, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10))
        line = w1_text(octets + bytes((crc8(octets),))).splitlines()[1]
        # Its power-on value, which it refuses, is set out of reach.
        theirs = evaluate_temperature(line, 0.001, Unit.DEGREES_C, Sensor.DS18B20, "", 0.0, math.inf)
        assert theirs == temperature_c(lsb, msb, 0x7F)
