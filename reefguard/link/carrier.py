"""Carry a letter to one address: Apprise behind a small port.

Apprise is loaded with the first letter; it is large, and nothing else needs it.
"""

import logging
import threading
from typing import Final, NamedTuple, Protocol

from reefguard.alarms.catalogue import Priority
from reefguard.link.redaction import redacted


class Letter(NamedTuple):
    """What is to be carried."""

    id: str
    priority: int
    title: str
    body: str


class Answer(NamedTuple):
    """What became of it.

    Attributes:
        taken: the receiver has it.
        said: what was said, fit for a log: without any part of the address.
    """

    taken: bool
    said: str


class Carrier(Protocol):
    """Carries letters."""

    def carry(self, letter: Letter, address: str) -> Answer:
        """Carry a letter to an address; blocks for as long as that takes, and raises nothing."""


class AppriseCarrier:
    """Carries letters to whatever Apprise knows."""

    def __init__(self) -> None:
        """Load Apprise, and listen to what it says only to pass it on without secrets."""
        from apprise import Apprise, AppriseAsset, NotifyFormat, NotifyType  # noqa: PLC0415  see above

        self._overheard = _Overheard()
        logger = logging.getLogger("apprise")
        logger.handlers[:] = [self._overheard]
        logger.setLevel(logging.INFO)
        logger.propagate = False
        self._asset: Final = AppriseAsset(app_id="reefguard", app_desc="reefguard", async_mode=False)
        self._apprise, self._text = Apprise, NotifyFormat.TEXT
        self._types: Final = {
            Priority.LOW: NotifyType.INFO,
            Priority.MEDIUM: NotifyType.WARNING,
            Priority.HIGH: NotifyType.FAILURE,
            Priority.URGENT: NotifyType.FAILURE,
        }

    def carry(self, letter: Letter, address: str) -> Answer:
        """Carry a letter to an Apprise address."""
        self._overheard.begin()
        try:
            way = self._apprise(asset=self._asset)
            if not way.add(address):
                return Answer(taken=False, said="Apprise knows no such address; mend: see its documentation")
            taken = way.notify(
                title=letter.title,
                body=f"{letter.body}\n[{letter.id}]",
                notify_type=self._types[Priority(letter.priority)],
                body_format=self._text,
            )
        except Exception as error:  # noqa: BLE001  any of a hundred plug-ins; what it was is told
            return Answer(taken=False, said=redacted(f"{type(error).__name__}: {error}", address))
        if taken:
            return Answer(taken=True, said="taken")
        return Answer(
            taken=False, said=redacted(self._overheard.last() or "refused, without a word", address)
        )


class _Overheard(logging.Handler):
    """Keeps the last complaint of each thread."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self._kept = threading.local()

    def begin(self) -> None:
        self._kept.said = []

    def last(self) -> str:
        return "; ".join(getattr(self._kept, "said", [])[-2:])

    def emit(self, record: logging.LogRecord) -> None:
        said = getattr(self._kept, "said", None)
        if said is not None:
            said.append(record.getMessage())
