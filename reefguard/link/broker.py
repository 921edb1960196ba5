"""The tank on an MQTT broker: keeps one Homie device there, connection after connection.

Losing the broker changes nothing here: what is published while nobody listens is kept
as the latest picture only, and told whole to the next connection.
"""

import logging
import random
import threading
import time
from collections.abc import Callable, Iterable
from typing import Final

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import MQTTErrorCode
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from reefguard.link import homie
from reefguard.link.mqtt_session import Access, connect, new_client, refused, unreachable
from reefguard.link.ports import Snapshot
from reefguard.settings.link_model import Broker

_LOG = logging.getLogger(__name__)

# At least once.  The convention recommends exactly once, and leaves this open: all that is said here is
# retained state, which does not mind being said twice; and paho passes on a broker's refusal of
# a message (PUBACK) at this level only.
_QOS: Final = 1
_FIRST_PAUSE_S: Final = 1.0
_LONGEST_PAUSE_S: Final = 120.0
_GOODBYE_WITHIN_S: Final = 3.0
# Leave, and have the broker say `lost` (MQTT 5, section 3.14.2.1).
_WITH_WILL: Final = ReasonCode(PacketTypes.DISCONNECT, identifier=0x04)
_BROKE: Final = (
    "the connection broke; where it does so again and again, another tank may bear the same device id"
)


class BrokerOutlet:
    """Shows the tank as a Homie device.

    Attributes:
        trouble: why nothing is shown at the moment, or `None`.
    """

    def __init__(
        self,
        broker: Broker,
        password: str | None = None,
        *,
        stopwatch: Callable[[], float] = time.monotonic,
        first_pause_s: float = _FIRST_PAUSE_S,
    ) -> None:
        """Take what is needed; the first snapshot opens the connection."""
        self.trouble: str | None = "not connected yet"
        self._access = Access(
            broker.host,
            broker.port,
            tls=broker.tls,
            ca_file=broker.ca_file,
            user=broker.user,
            password=password,
        )
        self._device, self._refresh_s = broker.device, broker.every_s
        self._root = homie.root(broker.domain, broker.device)
        self._stopwatch, self._first_pause_s = stopwatch, first_pause_s
        self._lock = threading.Lock()
        # Under the lock: what shall be shown; what this connection has been told, and when.
        self._shall: homie.Picture | None = None
        self._stands: homie.Picture | None = None
        self._told_s = 0.0
        self._client: Client | None = None
        self._ended, self._closing = threading.Event(), threading.Event()
        self._keeper = threading.Thread(target=self._keep_connected, name="broker", daemon=True)

    def publish(self, snapshot: Snapshot) -> None:
        """Show a snapshot: at once where something happened, else once a period."""
        shall = homie.picture(snapshot, self._device, self._refresh_s)
        with self._lock:
            first, self._shall = self._shall is None, shall
            if self._client is not None and self._stands is not None:
                due = self._stopwatch() - self._told_s >= self._refresh_s
                if due or homie.urgent(self._stands, shall):
                    self._tell(self._client, homie.changes(self._stands, shall), shall)
        if first and not self._closing.is_set():
            self._keeper.start()

    def close(self) -> None:
        """Say `disconnected`, and leave."""
        self._closing.set()
        with self._lock:
            client, told = self._client, self._stands is not None
            self._stands = None
        if client is not None:
            if told and not self._said_goodbye(client):
                client.disconnect(_WITH_WILL)
            else:
                client.disconnect()
        self._ended.set()
        if self._keeper.is_alive():
            self._keeper.join(_GOODBYE_WITHIN_S)

    def _said_goodbye(self, client: Client) -> bool:
        """Say `disconnected`, and return whether the broker has heard it."""
        state = homie.DeviceState.DISCONNECTED.value
        last = client.publish(f"{self._root}/{homie.STATE}", state, qos=_QOS, retain=True)
        try:
            last.wait_for_publish(_GOODBYE_WITHIN_S)
            return last.is_published()
        except (RuntimeError, ValueError) as error:
            # The connection went in this very instant.
            _LOG.info("no goodbye reached %s: %s", self._access.where, error)
            return False

    def _keep_connected(self) -> None:
        pause_s = self._first_pause_s
        while not self._closing.is_set():
            began_s = self._stopwatch()
            self._one_connection()
            if self._stopwatch() - began_s > _LONGEST_PAUSE_S:
                # One that held.  Two tanks of one id push each other out, ever more seldom.
                pause_s = self._first_pause_s
            # Not all tanks at once, after the broker they share was away.
            jitter = random.uniform(0.5, 1.0)  # noqa: S311  spreads load, keeps no secret
            self._closing.wait(pause_s * jitter)
            pause_s = min(2.0 * pause_s, _LONGEST_PAUSE_S)

    def _one_connection(self) -> None:
        """Hold one connection from its beginning to its end."""
        self._ended.clear()
        try:
            client = new_client(f"reefguard-{self._device}", self._access)
            client.will_set(
                f"{self._root}/{homie.STATE}", homie.DeviceState.LOST.value, qos=_QOS, retain=True
            )
            client.on_connect, client.on_message = self._on_connect, self._on_message
            client.on_disconnect, client.on_publish = self._on_disconnect, self._on_publish
            connect(client, self._access)
        except (OSError, ValueError) as error:
            self._note(unreachable(error, self._access))
            return
        with self._lock:
            # From here on, whoever closes closes this one.
            if self._closing.is_set():
                client.disconnect()
                return
            self._client = client
        client.loop_start()
        self._ended.wait()
        client.loop_stop()
        with self._lock:
            self._client, self._stands = None, None

    def _on_connect(
        self,
        client: Client,
        _userdata: object,
        _flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self._note(refused(reason))
            return
        with self._lock:
            shall = self._shall
            if shall is not None and not self._closing.is_set():
                self._tell(client, homie.announcement(shall), shall)
        # What an earlier life left behind, an alarm above all, must not outlast it.
        left_behind = SubscribeOptions(qos=1, noLocal=True)
        client.subscribe(f"{self._root}/#", options=left_behind)
        self._note(None)

    def _on_message(self, client: Client, _userdata: object, message: MQTTMessage) -> None:
        """Delete what is kept in this tank's name and no longer holds; anything else is not for us."""
        if not message.retain or not message.payload:
            return
        topic = message.topic.removeprefix(f"{self._root}/")
        with self._lock:
            if self._stands is not None and not self._holds(topic, self._stands):
                client.publish(message.topic, b"", qos=_QOS, retain=True)

    def _on_publish(
        self,
        _client: Client,
        _userdata: object,
        _mid: int,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        """Note a message that was refused; paho holds a lock of its own here, so ours stays alone."""
        if reason.is_failure:
            self._note(
                f"the broker takes nothing below {self._root}: {reason}; mend: let this user write there"
            )

    def _on_disconnect(
        self,
        _client: Client,
        _userdata: object,
        flags: DisconnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if reason.is_failure and self.trouble is None:
            self._note(refused(reason) if flags.is_disconnect_packet_from_server else _BROKE)
        self._ended.set()

    @staticmethod
    def _holds(topic: str, stands: homie.Picture) -> bool:
        return topic in (homie.STATE, homie.DESCRIPTION) or topic in stands.topics

    def _tell(self, client: Client, posts: Iterable[homie.Post], shall: homie.Picture) -> None:
        """Send posts; the lock is held."""
        for post in posts:
            sent = client.publish(f"{self._root}/{post.topic}", post.payload, qos=_QOS, retain=True)
            if sent.rc is not MQTTErrorCode.MQTT_ERR_SUCCESS:
                # The queue is full, or the connection has just gone.  A new one begins from the beginning;
                # until then the broker says `lost`.
                self._stands = None
                client.disconnect(_WITH_WILL)
                return
        self._stands, self._told_s = shall, self._stopwatch()

    def _note(self, trouble: str | None) -> None:
        if trouble != self.trouble:
            if trouble is None:
                _LOG.info("shown on %s as %s", self._access.where, self._root)
            else:
                _LOG.warning("not shown on the broker: %s", trouble)
        self.trouble = trouble
