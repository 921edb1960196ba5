"""What the settings say of the link: who is told, and how the tank shows itself to other systems.

Secrets (addresses with tokens, passwords) are never here: a setting names a
secret, and the link finds it in the service manager's credentials or in a
file that only its user can read.
"""

from dataclasses import dataclass
from enum import IntEnum


class Lowest(IntEnum):
    """The lowest priority a channel carries; the numbers are those of the alarms' priorities."""

    LOW = 1
    MEDIUM = 2
    HIGH = 3
    URGENT = 4


@dataclass(frozen=True, slots=True)
class QuietHours:
    """When a channel holds back everything but the highest priority; seconds after local midnight."""

    from_s: int
    until_s: int


@dataclass(frozen=True, slots=True)
class Channel:
    """A way to a person.

    Attributes:
        name: what the keeper calls it.
        secret: the name of the secret that holds its Apprise address, one or more lines.
        lowest: it carries this priority and higher.
        quiet: hours in which it holds back all but the highest priority.
        repeat_after_s: how long until the first repeat of an alarm nobody acknowledges; each further one
            waits twice as long, a day at most; `None` repeats nothing.
    """

    name: str
    secret: str
    lowest: Lowest = Lowest.MEDIUM
    quiet: QuietHours | None = None
    repeat_after_s: float | None = 1_800.0


@dataclass(frozen=True, slots=True)
class Heartbeat:
    """A sign of life to a service outside, which calls when it stays away.

    Attributes:
        secret: the name of the secret that holds its address.
        every_s: how often.
        post: POST instead of GET.
    """

    secret: str
    every_s: float = 300.0
    post: bool = False


@dataclass(frozen=True, slots=True)
class Broker:
    """An MQTT broker that is there already.

    Attributes:
        host: its name or address.
        port: 8883 with TLS, else 1883.
        tls: encrypt, and check its certificate.
        ca_file: a certificate authority of the keeper's own.
        user: the name to log in with.
        secret: the name of the secret that holds the password.
        device: the Homie device id of this tank: small letters, digits, hyphens.
        domain: the first segment of every topic.
        every_s: how often values are published at least.
    """

    host: str
    port: int
    device: str
    tls: bool = True
    ca_file: str | None = None
    user: str | None = None
    secret: str | None = None
    domain: str = "homie"
    every_s: float = 60.0


@dataclass(frozen=True, slots=True)
class Metrics:
    """Where OpenMetrics go.

    Attributes:
        textfile: a file in the directory of a node collector that is there already; `None` for none.
        port: a port on the loopback address; `None` for none.
    """

    textfile: str | None = None
    port: int | None = None


@dataclass(frozen=True, slots=True)
class Listen:
    """Where the page can be reached.

    Attributes:
        address: of one of this machine's network interfaces, without brackets; `0.0.0.0` and `::` mean all.
        port: of TCP.
    """

    address: str
    port: int

    @property
    def shown(self) -> str:
        """As it is written in an address: with brackets around one of IPv6."""
        return f"[{self.address}]:{self.port}" if ":" in self.address else f"{self.address}:{self.port}"


LOOPBACK = Listen("127.0.0.1", 8377)


@dataclass(frozen=True, slots=True)
class Page:
    """The page that shows the tank to a browser.

    Attributes:
        listen: where; nobody but this machine can reach the loopback address.
        hosts: names it answers to besides this machine's own, in small letters.
    """

    listen: Listen = LOOPBACK
    hosts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LinkSettings:
    """Everything the settings say of the link.

    Attributes:
        state_directory: where its outbox is kept.
        runtime_directory: where its own status is.
        secrets_directory: where secrets are when the service manager gives none: files by their names,
            readable by the link's user only.
        guard_silent_after_s: a guard's status older than this is an alarm of the link's own.
    """

    channels: tuple[Channel, ...] = ()
    heartbeat: Heartbeat | None = None
    broker: Broker | None = None
    metrics: Metrics | None = None
    page: Page | None = None
    state_directory: str = "/var/lib/reefguard-link"
    runtime_directory: str = "/run/reefguard-link"
    secrets_directory: str = "/etc/reefguard/secrets"
    guard_silent_after_s: float = 60.0
