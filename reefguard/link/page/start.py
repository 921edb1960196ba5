"""The page from the settings: what it reads, and where it is served."""

import socket
from collections.abc import Callable
from datetime import tzinfo
from pathlib import Path
from typing import Final

from reefguard.link.notes import Now
from reefguard.link.page.charts import limits_of
from reefguard.link.page.server import PageOutlet, names_of
from reefguard.link.page.web import Sources, Tank, application
from reefguard.records import status_file
from reefguard.records.event_reader import EventReader
from reefguard.records.history_reader import HistoryReader
from reefguard.settings.link_model import LinkSettings, Page
from reefguard.settings.model import Settings

# Two a day for a year and a half; older ones lie outside of what the page shows.
_MOST_ALARM_EVENTS: Final = 2_000


def page(
    settings: Settings, link: LinkSettings, now: Callable[[], Now], zone: tzinfo, version: str
) -> PageOutlet:
    """Return the page, ready to be opened.

    Args:
        settings: of the tank.
        link: of the link.
        now: tells the time.
        zone: whose clock names the times.
        version: of the program.
    """
    served = link.page or Page()
    state = Path(settings.state_directory)
    status_path = Path(settings.runtime_directory) / status_file.FILE_NAME
    history, events = HistoryReader(state), EventReader(state)
    sources = Sources(
        now=now,
        status=lambda: status_file.read(status_path),
        past=history.past,
        alarms=lambda: events.of_kind("alarm", _MOST_ALARM_EVENTS),
    )
    tank = Tank(
        name=settings.tank,
        unit=settings.shown_in,
        limits=limits_of(settings),
        silent_after_s=link.guard_silent_after_s,
        version=version,
        zone=zone,
        hosts=names_of(served, socket.gethostname()),
    )
    return PageOutlet(served.listen, application(sources, tank))
