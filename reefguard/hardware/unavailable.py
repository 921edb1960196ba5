"""The one exception with which the hardware refuses to start."""


class HardwareUnavailable(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """A device that the settings name cannot be used; the message says why and how to mend it."""
