"""Pure physics of air and water.  SI and degrees Celsius inside; no clock, no file, no device."""
