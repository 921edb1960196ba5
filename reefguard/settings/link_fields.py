"""The keys under `link`: who is told, and how the tank shows itself to other systems."""

import ipaddress
import re

from reefguard.settings.declaration import Field, Named, Presence, Section, time_kind
from reefguard.settings.kinds import LIGHTS_OFF, PATH, TEXT, TRUTH, Kind, choice, word_or
from reefguard.settings.link_model import Listen, Lowest
from reefguard.settings.quantities import MisreadError
from reefguard.settings.yaml_nodes import Scalar

_SECRET = "^[A-Za-z][A-Za-z0-9_-]{0,47}$"  # noqa: S105  the pattern of a name, no secret
_HOST = r"^[A-Za-z0-9:](?:[A-Za-z0-9.:-]{0,251}[A-Za-z0-9])?$"
_TOPIC = "^[a-z0-9](?:[a-z0-9-]{0,46}[a-z0-9])?$"
_SERVED_NAME = r"^(?:[A-Za-z0-9](?:[A-Za-z0-9.-]{0,251}[A-Za-z0-9])?|\[[0-9A-Fa-f:.]{2,45}\])$"
_PORT = "^[1-9][0-9]{0,4}$"
_LISTEN = r"^(?:[0-9.]{7,15}|\[[0-9A-Fa-f:.]{2,45}\]):[1-9][0-9]{0,4}$"
_TEXTFILE = r"^/[^\u0000-\u001f\u007f]*[^/\u0000-\u001f\u007f]\.prom$"
_LAST_PORT = 65_535


def _read_secret(scalar: Scalar) -> str:
    if "://" in scalar.text:
        raise MisreadError(
            "an address can hold a password, and a settings file is read by many",
            "put it into a file in `link.secrets_directory`, and write that file's name here",
        )
    if not re.fullmatch(_SECRET, scalar.text):
        raise MisreadError(
            "no name of a secret", "write the name of its file: letters, digits, `-` and `_`, a letter first"
        )
    return scalar.text


def _read_host(scalar: Scalar) -> str:
    if not re.fullmatch(_HOST, scalar.text):
        raise MisreadError(
            "no name or address of a machine", "write the name alone: `broker.lan`, `192.0.2.7`"
        )
    return scalar.text


def _read_topic(scalar: Scalar) -> str:
    if re.fullmatch(_TOPIC, scalar.text):
        return scalar.text
    small = re.sub("[^a-z0-9]+", "-", scalar.text.lower()).strip("-")[:48].strip("-")
    mend = f"write `{small}`" if small else "write it like `north-reef`"
    raise MisreadError("small letters, digits and hyphens only (Homie 5)", mend)


def _read_port(scalar: Scalar) -> int:
    if not re.fullmatch(_PORT, scalar.text) or int(scalar.text) > _LAST_PORT:
        raise MisreadError("no port", f"write a whole number from 1 to {_LAST_PORT}")
    return int(scalar.text)


def _read_textfile(scalar: Scalar) -> str:
    path = PATH.read(scalar)
    if not re.fullmatch(_TEXTFILE, str(path)):
        raise MisreadError("a collector reads no other files than `*.prom`", "let the name end in `.prom`")
    return str(path)


def _read_listen(scalar: Scalar) -> Listen:
    """Read an address and a port; a name is none, for what it means is not in the settings' hand."""
    written = scalar.text
    if re.fullmatch(_PORT, written):
        raise MisreadError("a port without an address", f"write `127.0.0.1:{written}`")
    address, _, port = written.rpartition(":")
    try:
        found = ipaddress.ip_address(address.removeprefix("[").removesuffix("]"))
    except ValueError:
        found = None
    if found is None or not re.fullmatch(_LISTEN, written) or int(port) > _LAST_PORT:
        raise MisreadError(
            "no address of this machine with a port",
            "write `127.0.0.1:8377` for this machine only, `0.0.0.0:8377` for the whole network",
        )
    return Listen(str(found), int(port))


def _read_served_name(scalar: Scalar) -> str:
    if not re.fullmatch(_SERVED_NAME, scalar.text):
        raise MisreadError(
            "no name a browser could ask for",
            "write the name alone, without port and path: `reef.lan`, `192.0.2.7`, `[2001:db8::7]`",
        )
    return scalar.text.lower()


_SECRET_NAME = Kind("mail", _read_secret, {"type": "string", "pattern": _SECRET})
_HOST_NAME = Kind("broker.lan", _read_host, {"type": "string", "pattern": _HOST})
_TOPIC_LEVEL = Kind("north-reef", _read_topic, {"type": "string", "pattern": _TOPIC})
# An editor sees a number, or a text in quotes; both are read.
_PORT_NUMBER = Kind(
    "8883",
    _read_port,
    {
        "anyOf": [
            {"type": "integer", "minimum": 1, "maximum": _LAST_PORT},
            {"type": "string", "pattern": _PORT},
        ]
    },
)
_PAGE_LISTEN = Kind("127.0.0.1:8377", _read_listen, {"type": "string", "pattern": _LISTEN})
_PAGE_HOST = Kind("reef.lan", _read_served_name, {"type": "string", "pattern": _SERVED_NAME})
_METRICS_FILE = Kind(
    "/var/lib/prometheus/node-exporter/reefguard.prom",
    _read_textfile,
    {"type": "string", "pattern": _TEXTFILE},
)

_QUIET = (
    Field("from", LIGHTS_OFF, "When they begin.", required=True),
    Field("until", LIGHTS_OFF, "When they end; before `from` means the next day.", required=True),
)
_CHANNEL = (
    Field("secret", _SECRET_NAME, "The name of the secret that holds its Apprise address.", required=True),
    Field(
        "lowest",
        choice({"low": Lowest.LOW, "medium": Lowest.MEDIUM, "high": Lowest.HIGH, "urgent": Lowest.URGENT}),
        "It carries alarms of this priority and higher.",
        default="medium",
    ),
    Section("quiet_hours", "Hours in which it holds back all but what is urgent.", _QUIET),
    Field(
        "repeat_after",
        word_or(
            "never",
            None,
            time_kind(
                300, 86_400, "nobody can act and acknowledge so soon", "a missed message would stay missed"
            ),
        ),
        "When an alarm nobody acknowledges is repeated first; each time waits twice as long.",
        default="30 min",
    ),
)
_HEARTBEAT = (
    Field("secret", _SECRET_NAME, "The name of the secret that holds its address.", required=True),
    Field(
        "every",
        time_kind(
            30, 3600, "the service outside would be flooded", "a dead tank would go unnoticed too long"
        ),
        "How often.",
        default="5 min",
    ),
    Field("method", choice({"GET": False, "POST": True}), "How the address is called.", default="GET"),
)
_BROKER = (
    Field("host", _HOST_NAME, "Its name or address.", required=True),
    Field("port", _PORT_NUMBER, "Where it listens: 8883 with TLS and 1883 without, unless told."),
    Field("device", _TOPIC_LEVEL, "The Homie id of this tank, different for each tank.", required=True),
    Field("tls", TRUTH, "Encrypt, and check its certificate.", default="true"),
    Field("ca_file", PATH, "A certificate authority of your own."),
    Field("user", TEXT, "The name to log in with."),
    Field("secret", _SECRET_NAME, "The name of the secret that holds the password."),
    Field("domain", _TOPIC_LEVEL, "The first segment of every topic.", default="homie"),
    Field(
        "every",
        time_kind(5, 3600, "nobody reads so fast", "a viewer would take the tank for dead"),
        "How often values are published at least.",
        default="1 min",
    ),
)
_METRICS = (
    Field("textfile", _METRICS_FILE, "A file for a node collector that is there already."),
    Field("port", _PORT_NUMBER, "A port on the loopback address."),
)
_PAGE = (
    Field(
        "listen",
        _PAGE_LISTEN,
        "Where it can be reached: on this machine only, unless another of its addresses is written here.",
        default="127.0.0.1:8377",
    ),
    Field("hosts", _PAGE_HOST, "Names it answers to, besides this machine's own.", many=True),
)
LINK_SECTION = Section(
    "link",
    "Who is told, and how the tank shows itself to other systems.",
    (
        Named(
            "channels",
            "The ways to a person, by name.",
            _CHANNEL,
            noun="channel",
            presence=Presence.OPTIONAL,
        ),
        Section(
            "heartbeat", "A sign of life to a service outside, which calls when it stays away.", _HEARTBEAT
        ),
        Section("broker", "An MQTT broker that is there already.", _BROKER),
        Section("metrics", "Where OpenMetrics go.", _METRICS),
        Section("page", "A page that shows the tank to a browser, and switches nothing.", _PAGE),
        Field("state_directory", PATH, "Where its outbox is kept.", default="/var/lib/reefguard-link"),
        Field("runtime_directory", PATH, "Where its own status is.", default="/run/reefguard-link"),
        Field(
            "secrets_directory",
            PATH,
            "Where secrets are, a file each, when the service manager gives none.",
            default="/etc/reefguard/secrets",
        ),
        Field(
            "guard_silent_after",
            time_kind(
                15, 600, "one slow tick would wake you", "the tank would be unguarded for too long unnoticed"
            ),
            "A guard that has written no status for this long is silent.",
            default="1 min",
        ),
    ),
)
