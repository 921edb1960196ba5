"""The time zone the keeper lives in."""

from datetime import UTC, datetime, tzinfo

import tzlocal


def local_zone() -> tzinfo:
    """Return the system's time zone; where it is set in contradiction, the offset it has now."""
    try:
        return tzlocal.get_localzone()
    except (LookupError, ValueError, OSError):
        return datetime.now().astimezone().tzinfo or UTC
