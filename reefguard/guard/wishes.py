"""What a person at the tank asks of an output: one at a time, never for long, gone with whoever asked.

The person's command asks again and again while they watch.  Where that stops
(a lost connection, a closed terminal), it ends by itself, and what has ended
cannot be taken up again by the same session.  Nor does a command that goes on
asking in a forgotten terminal begin anything: not after another person's
session, and not after a restart of the guard, which knows of none.
"""

from typing import Final, NamedTuple

from reefguard.control.step import output_names
from reefguard.control.words import span
from reefguard.guard.chronicle import Chronicle, Moment
from reefguard.guard.commands import AskedOfOutput
from reefguard.settings.model import Settings
from reefguard.vocabulary import Wish

# However often it is renewed.
LONGEST_SESSION_S: Final = 1_800.0

_HAS_ENDED: Final = (
    "what was asked has ended: it was not renewed in time, lasted as long as it may, "
    "or the guard was started anew"
)


class _Session(NamedTuple):
    name: str
    begun_s: float
    wish: Wish


class WishDesk:
    """Holds the wish of the moment, and notes what becomes of it."""

    def __init__(self, chronicle: Chronicle) -> None:
        """Start with nothing asked."""
        self._chronicle = chronicle
        self._session: _Session | None = None
        self._ended = ""

    def current(self, at: Moment) -> Wish | None:
        """Return what is asked now."""
        session = self._session
        if session is not None and at.now_s >= session.wish.until_s:
            self._end(session, at, "has ended by itself")
        return None if self._session is None else self._session.wish

    def obey(self, asked: AskedOfOutput, who: str, at: Moment, settings: Settings) -> dict[str, str]:
        """Take what a person asks; return what to answer."""
        self.current(at)
        session = self._session
        if asked.on is None:
            if session is not None and session.name == asked.session:
                self._end(session, at, "is over")
            return {"said": f"nothing is asked of {asked.output} any more"}
        refused = self._refused(asked, session, settings)
        if refused is not None:
            return {"error": refused}
        begun_s = at.now_s if session is None else session.begun_s
        until_s = min(at.now_s + asked.for_s, begun_s + LONGEST_SESSION_S)
        wish = Wish(asked.output, asked.on, who, until_s)
        self._session = _Session(asked.session, begun_s, wish)
        word = "run" if asked.on else "rest"
        if session is None or session.wish.on != asked.on:
            self._chronicle.note(
                at, "command", "exercise", "asked", f"{who} asks for {asked.output} to {word}",
                who=who, details={"output": asked.output, "on": asked.on, "for_s": asked.for_s},
            )  # fmt: skip
        return {"said": f"{asked.output} shall {word} for {span(until_s - at.now_s)}"}

    def _refused(self, asked: AskedOfOutput, session: _Session | None, settings: Settings) -> str | None:
        names = output_names(settings)
        if asked.output not in names:
            return f"there is no output {asked.output!r}; there are {', '.join(names)}"
        if asked.session == self._ended or (asked.renews and session is None):
            return _HAS_ENDED
        if session is None:
            return None
        if session.name != asked.session:
            return f"{session.wish.who} is exercising {session.wish.output}; try again when that is over"
        if session.wish.output != asked.output:
            return f"this session is about {session.wish.output}"
        return None

    def _end(self, session: _Session, at: Moment, how: str) -> None:
        self._session = None
        self._ended = session.name
        wish = session.wish
        self._chronicle.note(
            at,
            "command",
            "exercise",
            "ended",
            f"what {wish.who} asked of {wish.output} {how}",
            who=wish.who,
            details={"output": wish.output},
        )
