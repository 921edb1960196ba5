"""`reefguard alert-test`: does every way to a person work?"""

import sys
import threading
import uuid
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from reefguard.cli.file_options import settings_option

if TYPE_CHECKING:
    from reefguard.link.carrier import Answer, Carrier, Letter
    from reefguard.link.secrets import Secrets
    from reefguard.settings.link_model import Channel

_DEADLINE_S: Final = 60.0
_WORKS, _FAILS = 0, 1


@click.command("alert-test")
@settings_option
@click.argument("channel", required=False)
def alert_test(settings_file: Path, channel: str | None) -> None:
    """Send a message marked TEST through every channel, or through CHANNEL, and say what each answered.

    It needs the right to read the secrets.  Ends with 0 when every receiver took it, else with 1.
    """
    # Not for `--help`.
    from reefguard.cli.link_service import carrier, link_settings  # noqa: PLC0415  loads what only a test needs
    from reefguard.link.secrets import Secrets  # noqa: PLC0415  as above

    settings, link = link_settings(settings_file.absolute())
    chosen = [one for one in link.channels if channel in {None, one.name}]
    if not chosen:
        known = ", ".join(f"`{one.name}`" for one in link.channels)
        told = f"there is no channel `{channel}`" if channel and known else "there is no channel"
        mend = f"name one of {known}" if known else "write one under `link.channels`"
        click.echo(f"reefguard alert-test: {told}\n  mend: {mend}", err=True)
        sys.exit(_FAILS)
    secrets, shared = Secrets(Path(link.secrets_directory)), carrier()
    trials = [_Trial(one, settings.tank, secrets, shared) for one in chosen]
    for trial in trials:
        trial.start()
    work = [trial.tell() for trial in trials]
    sys.exit(_WORKS if all(work) else _FAILS)


class _Trial:
    """One channel's test, in a thread of its own: one that hangs holds up no other."""

    def __init__(self, channel: "Channel", tank: str, secrets: "Secrets", carrier: "Carrier") -> None:
        self._channel, self._tank, self._secrets, self._carrier = channel, tank, secrets, carrier
        self._answers: list[Answer] = []
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        self._thread.start()

    def tell(self) -> bool:
        """Wait for the answers and say them; return whether all took it."""
        self._thread.join(_DEADLINE_S)
        answers = list(self._answers)
        for answer in answers:
            click.echo(f"{self._channel.name}: {'taken' if answer.taken else f'NOT taken: {answer.said}'}")
        if self._thread.is_alive():
            click.echo(f"{self._channel.name}: NOT taken: no answer within {_DEADLINE_S:.0f} s")
            return False
        return all(answer.taken for answer in answers)

    def _run(self) -> None:
        from reefguard.link.carrier import Answer  # noqa: PLC0415  as above
        from reefguard.link.secrets import NoSecret  # noqa: PLC0415  as above

        letter = self._letter()
        try:
            addresses = self._secrets.lines(self._channel.secret)
        except NoSecret as error:
            self._answers.append(Answer(taken=False, said=str(error)))
            return
        for address in addresses:
            self._answers.append(self._carrier.carry(letter, address))

    def _letter(self) -> "Letter":
        from reefguard.alarms.catalogue import Priority  # noqa: PLC0415  as above
        from reefguard.link.carrier import Letter  # noqa: PLC0415  as above
        from reefguard.link.message_words import trial  # noqa: PLC0415  as above

        at_wall = datetime.now().astimezone().isoformat(timespec="seconds")
        title, body = trial(self._tank, self._channel.name, at_wall)
        return Letter(uuid.uuid4().hex[:12], Priority.LOW, title, body)
