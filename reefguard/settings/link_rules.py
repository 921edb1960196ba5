"""What the values under `link` must be to each other."""

from collections.abc import Callable, Iterator

from reefguard.settings.problems import Problem
from reefguard.settings.sheet import Sheet


def broken_link_rules(sheet: Sheet) -> tuple[Problem, ...]:
    """Return a problem for each rule the link's keys break."""
    return tuple(problem for rule in _RULES for problem in rule(sheet))


def _quiet_hours_end(sheet: Sheet) -> Iterator[Problem]:
    """Quiet hours leave some of the day."""
    for name in sheet.names("link.channels"):
        at = f"link.channels.{name}.quiet_hours"
        begin, end = sheet.of(f"{at}.from", int), sheet.of(f"{at}.until", int)
        if begin and end and begin.value == end.value:
            yield end.problem(
                f"the same as `from` (line {begin.place.line}): is it ever not quiet?",
                "write when they end, or take `quiet_hours` out and write `lowest: urgent`",
            )


def _password_has_a_user(sheet: Sheet) -> Iterator[Problem]:
    """A password belongs to a user, and a user to a password."""
    user, secret = sheet.of("link.broker.user", str), sheet.of("link.broker.secret", str)
    if secret and not sheet.mentions("link.broker.user"):
        yield secret.problem("a password without a user", "write `user` too, or take this key out")
    if user and not sheet.mentions("link.broker.secret"):
        yield user.problem("a user without a password", "write `secret` too: the name of the password's file")


def _authority_needs_tls(sheet: Sheet) -> Iterator[Problem]:
    """Without encryption there is no certificate to check."""
    authority = sheet.of("link.broker.ca_file", str)
    if authority and sheet.maybe("link.broker.tls", bool) is False:
        yield authority.problem("of use only with `tls: true`", "write `tls: true`, or take this key out")


def _metrics_go_somewhere(sheet: Sheet) -> Iterator[Problem]:
    """A section about metrics names a place for them."""
    if sheet.is_open("link.metrics") and not any(
        sheet.mentions(f"link.metrics.{key}") for key in ("textfile", "port")
    ):
        yield Problem(
            sheet.place("link.metrics"),
            "link.metrics",
            "",
            "neither a file nor a port: the metrics would go nowhere",
            "write `textfile` or `port`, or take `metrics` out",
        )


def _directories_of_its_own(sheet: Sheet) -> Iterator[Problem]:
    """Guard and link run as different users, and both write a `status.json`."""
    for key in ("state_directory", "runtime_directory"):
        guards, links = sheet.of(key, str), sheet.of(f"link.{key}", str)
        if guards and links and guards.value.rstrip("/") == links.value.rstrip("/"):
            yield (links if links.given else guards).problem(
                "the guard and the link would write into the same directory",
                "write another one: the link must not be able to change the guard's files",
            )


_RULES: tuple[Callable[[Sheet], Iterator[Problem]], ...] = (
    _quiet_hours_end,
    _password_has_a_user,
    _authority_needs_tls,
    _metrics_go_somewhere,
    _directories_of_its_own,
)
