"""One MQTT 5 connection: how it is opened, and why one was refused, in words."""

import ssl
from dataclasses import dataclass
from typing import Any, Final

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

KEEP_ALIVE_S: Final = 30
"""A broker misses a client that died after one and a half of these (MQTT 5, section 3.1.2.10)."""

_LONGEST_QUEUE: Final = 1_000
_CONNECT_WITHIN_S: Final = 15.0

_MENDS: Final = {
    "Bad user name or password": "mend: give the user and password that the broker knows",
    "Not authorized": "mend: see that the broker knows this user and this password",
    "Session taken over": "mend: give each tank a device id of its own",
}


@dataclass(frozen=True, slots=True)
class Access:
    """How to reach a broker.

    Attributes:
        tls: encrypt, and check the broker's certificate and name.
        ca_file: who vouches for it; the system's authorities by default.
        password: never shown, not even by `repr`.
    """

    host: str
    port: int
    tls: bool
    ca_file: str | None = None
    user: str | None = None
    password: str | None = None

    def __repr__(self) -> str:
        """Return where it leads, without the password."""
        return f"Access({self.where})"

    @property
    def where(self) -> str:
        """The broker for a person's eyes."""
        return f"{self.host}:{self.port}"


class _ClosedWhenRefused(ssl.SSLSocket):
    """A connection that is closed when its handshake fails; paho leaves it open."""

    def do_handshake(self, block: bool = False) -> None:
        """Agree on keys, or close."""
        try:
            super().do_handshake(block)
        except OSError:
            self.close()
            raise


def new_client(client_id: str, access: Access, *, comes_back: bool = False) -> Client:
    """Return a client.

    Args:
        client_id: its name at the broker, which gives one if this is empty.
        access: how to reach the broker.
        comes_back: reconnect by itself.  Not for who publishes: paho sends what an old connection
            still held after what the new one says first, old values over new ones.

    Raises:
        OSError: the certificate authority's file cannot be read or used.
    """
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=client_id,
        protocol=MQTTProtocolVersion.MQTTv5,
        reconnect_on_failure=comes_back,
    )
    client.max_queued_messages_set(_LONGEST_QUEUE)
    client.connect_timeout = _CONNECT_WITHIN_S
    if access.tls:
        context = ssl.create_default_context(cafile=access.ca_file)
        context.sslsocket_class = _ClosedWhenRefused
        client.tls_set_context(context)
    if access.user is not None:
        client.username_pw_set(access.user, access.password)
    return client


def connect(client: Client, access: Access) -> None:
    """Open the connection, with a session that ends with it.

    Raises:
        OSError: nobody answers, or the certificate is not in order.
        ValueError: the host's name cannot be one.
    """
    nothing_kept: Any = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]  # paho's own
    nothing_kept.SessionExpiryInterval = 0
    client.connect(
        access.host, access.port, keepalive=KEEP_ALIVE_S, clean_start=True, properties=nothing_kept
    )


def refused(reason: ReasonCode) -> str:
    """Return why the broker ended it, with what to do where that is known."""
    name = str(reason)
    return f"the broker said: {name}" + (f"; {_MENDS[name]}" if name in _MENDS else "")


def unreachable(error: OSError | ValueError, access: Access) -> str:
    """Return why no connection came about.

    >>> unreachable(ConnectionRefusedError(111, "Connection refused"), Access("127.0.0.1", 1883, tls=False))
    '127.0.0.1:1883 cannot be reached: Connection refused'
    """
    if isinstance(error, ssl.SSLCertVerificationError):
        return (
            f"the certificate of {access.where} is not in order: {error.verify_message}; "
            "mend: name the authority that signed it as the CA file, and the broker as its certificate does"
        )
    if isinstance(error, FileNotFoundError) and access.ca_file is not None:
        return f"the CA file {access.ca_file} is not there"
    why = error.strerror if isinstance(error, OSError) else None
    return f"{access.where} cannot be reached: {why or error}"
