"""A connection that listens to all tanks of a broker, and says nothing there."""

import threading
import time
from datetime import datetime
from typing import Final

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from reefguard.link.fleet import DISCOVERY, Fleet, Tank
from reefguard.link.mqtt_session import Access, connect, new_client, refused

# A broker sends what it keeps in one go; silent for so long after its answer, it has sent all.
_QUIET_FOR_S: Final = 0.7
_LONGEST_PAUSE_S: Final = 30


class FleetWatch:
    """Listens until it is closed.

    Attributes:
        trouble: why nothing is heard at the moment, or `None`.
    """

    def __init__(self, access: Access) -> None:
        """Open the first connection.

        Raises:
            OSError: nobody answers, or the certificate is not in order.
            ValueError: the host's name cannot be one.
        """
        self.trouble: str | None = None
        self._lock = threading.Lock()
        # Under the lock: what was heard, the subscriptions that wait for their answer, the last sign of life.
        self._fleet, self._unanswered, self._heard_s = Fleet(), 0, time.monotonic()
        self._connected = False
        self._client = new_client("", access, comes_back=True)
        self._client.reconnect_delay_set(1, _LONGEST_PAUSE_S)
        self._client.on_connect, self._client.on_disconnect = self._on_connect, self._on_disconnect
        self._client.on_subscribe, self._client.on_message = self._on_subscribe, self._on_message
        connect(self._client, access)
        self._client.loop_start()

    def close(self) -> None:
        """Leave."""
        self._client.disconnect()
        self._client.loop_stop()

    @property
    def settled(self) -> bool:
        """Whether all that the broker keeps has been heard."""
        with self._lock:
            quiet = time.monotonic() - self._heard_s >= _QUIET_FOR_S
            return self._connected and self._unanswered == 0 and quiet

    def tanks(self, now: datetime) -> tuple[Tank, ...]:
        """Return every tank as it stands."""
        with self._lock:
            return self._fleet.tanks(now)

    def _on_connect(
        self,
        client: Client,
        _userdata: object,
        _flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self.trouble = refused(reason)
            return
        with self._lock:
            # What was deleted while nobody listened is not told: begin from nothing.
            self._fleet, self._unanswered, self._connected = Fleet(), 1, True
            client.subscribe([(topic, 0) for topic in DISCOVERY])
        self.trouble = None

    def _on_disconnect(
        self,
        _client: Client,
        _userdata: object,
        _flags: DisconnectFlags,
        _reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        with self._lock:
            self._connected = False
        self.trouble = self.trouble or "the connection to the broker broke"

    def _on_subscribe(
        self,
        _client: Client,
        _userdata: object,
        _mid: int,
        reasons: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        with self._lock:
            self._unanswered, self._heard_s = self._unanswered - 1, time.monotonic()
        if any(reason.is_failure for reason in reasons):
            self.trouble = f"the broker lets nobody listen here: {reasons[0]}; mend: let this user read there"

    def _on_message(self, client: Client, _userdata: object, message: MQTTMessage) -> None:
        with self._lock:
            self._heard_s = time.monotonic()
            more = self._fleet.take(message.topic, bytes(message.payload))
            if more is not None:
                self._unanswered += 1
                client.subscribe(more, 0)
