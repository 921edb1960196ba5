"""Drills: the real control and the real cutoff in virtual time, on a tank that is not quite as planned."""
