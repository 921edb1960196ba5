"""The installed programs, tried on a Pi or on a machine that looks like one: `run.py`."""
