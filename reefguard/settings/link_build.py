"""From a sheet without problems to what the settings say of the link."""

from reefguard.settings.link_model import (
    Broker,
    Channel,
    Heartbeat,
    LinkSettings,
    Listen,
    Lowest,
    Metrics,
    Page,
    QuietHours,
)
from reefguard.settings.sheet import Sheet

_TLS_PORT, _PLAIN_PORT = 8883, 1883


def link_from(sheet: Sheet) -> LinkSettings | None:
    """Return what the settings say of the link, or `None` when they say nothing of it.

    Raises:
        LookupError: a value is missing, which the reader and the rules do not let pass.
    """
    if not sheet.mentions("link"):
        return None
    return LinkSettings(
        channels=tuple(_channel(sheet, name) for name in sheet.names("link.channels")),
        heartbeat=_heartbeat(sheet) if sheet.mentions("link.heartbeat") else None,
        broker=_broker(sheet) if sheet.mentions("link.broker") else None,
        metrics=_metrics(sheet) if sheet.mentions("link.metrics") else None,
        page=_page(sheet) if sheet.mentions("link.page") else None,
        state_directory=sheet.must("link.state_directory", str),
        runtime_directory=sheet.must("link.runtime_directory", str),
        secrets_directory=sheet.must("link.secrets_directory", str),
        guard_silent_after_s=sheet.must("link.guard_silent_after", float),
    )


def _channel(sheet: Sheet, name: str) -> Channel:
    at = f"link.channels.{name}"
    return Channel(
        name=name,
        secret=sheet.must(f"{at}.secret", str),
        lowest=sheet.must(f"{at}.lowest", Lowest),
        quiet=_quiet_hours(sheet, f"{at}.quiet_hours"),
        repeat_after_s=sheet.maybe(f"{at}.repeat_after", float),
    )


def _quiet_hours(sheet: Sheet, at: str) -> QuietHours | None:
    if not sheet.mentions(at):
        return None
    return QuietHours(sheet.must(f"{at}.from", int), sheet.must(f"{at}.until", int))


def _heartbeat(sheet: Sheet) -> Heartbeat:
    return Heartbeat(
        secret=sheet.must("link.heartbeat.secret", str),
        every_s=sheet.must("link.heartbeat.every", float),
        post=sheet.must("link.heartbeat.method", bool),
    )


def _broker(sheet: Sheet) -> Broker:
    tls = sheet.must("link.broker.tls", bool)
    return Broker(
        host=sheet.must("link.broker.host", str),
        port=sheet.maybe("link.broker.port", int) or (_TLS_PORT if tls else _PLAIN_PORT),
        device=sheet.must("link.broker.device", str),
        tls=tls,
        ca_file=sheet.maybe("link.broker.ca_file", str),
        user=sheet.maybe("link.broker.user", str),
        secret=sheet.maybe("link.broker.secret", str),
        domain=sheet.must("link.broker.domain", str),
        every_s=sheet.must("link.broker.every", float),
    )


def _metrics(sheet: Sheet) -> Metrics:
    return Metrics(sheet.maybe("link.metrics.textfile", str), sheet.maybe("link.metrics.port", int))


def _page(sheet: Sheet) -> Page:
    names = sheet.maybe("link.page.hosts", tuple) or ()
    return Page(sheet.must("link.page.listen", Listen), tuple(str(name) for name in names))
