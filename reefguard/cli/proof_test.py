"""`reefguard proof-test`: does the cutoff really stop the chiller?"""

import os
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import click

from reefguard.cli.asking import AskedOutput
from reefguard.cli.conversation import Ended, NotPossible, Standing, agreed, chosen, ending_in_words, tell
from reefguard.cli.file_options import limits_option, settings_option
from reefguard.cli.running_tank import RunningTank, open_tank, read_object
from reefguard.commissioning.proof_test import Answer, Look, Verdict, by_feedback, by_person, look_at
from reefguard.commissioning.record import FAILED, PASSED, PROOF_TEST, STOPPED
from reefguard.control.chiller import NAME, PROOF_TEST_S
from reefguard.control.words import span
from reefguard.cutoff.limits_file import read_limits_file
from reefguard.cutoff.resets import TESTS_DIRECTORY_NAME, ask_for
from reefguard.settings.model import Chiller

_ANSWER_WITHIN_S: Final = 15.0  # stopwatch
_LOOK_EVERY_S: Final = 0.05
_FEEDBACK_WITHIN_S: Final = 60.0

_SAYS: Final = {"stands": Answer.STANDS, "runs": Answer.RUNS, "cannot tell": Answer.UNSURE}


@click.command("proof-test")
@settings_option
@limits_option
def proof_test(settings_file: Path, limits_file: Path) -> None:
    """See whether the cutoff really stops the chiller, and put it on record.

    The cutoff opens its contact while the chiller runs, and the guard leaves its own closed for 2 minutes:
    the chiller's running feedback, or you, say whether it stands.  Nothing is latched: cooling comes back by
    the cutoff's own rule.  Exit code: 0 passed, 1 not done or inconclusive, 2 failed, 130 stopped.
    """
    tank = open_tank(settings_file)
    with ending_in_words() as standing:
        chiller, directory = _places(tank, limits_file)
        test = _Test(tank, directory, standing, by_feedback=chiller.running_input is not None)
        verdict = test.prepared_and_made()
    _say(verdict, tank)


def _places(tank: RunningTank, limits_file: Path) -> tuple[Chiller, Path]:
    """Return the chiller, and the runtime directory of the cutoff that guards it."""
    chiller = tank.settings.chiller
    if chiller is None:
        raise NotPossible("the settings name no chiller, so there is nothing for a cutoff to stop")
    if chiller.cutoff_status is None:
        raise NotPossible(
            "the settings say `cutoff: elsewhere`: from here nobody can ask it\n"
            "  mend: on its own machine, stop the cutoff's service while the chiller runs, see the chiller "
            "stop, and start the service again"
        )
    setup = read_limits_file(limits_file)
    if isinstance(setup, list):
        raise NotPossible(f"{limits_file} cannot be used\n  mend: see `reefguard cutoff check {limits_file}`")
    directory = Path(setup.runtime_directory)
    if directory.resolve() != Path(chiller.cutoff_status).parent.resolve():  # /var/run is a link to /run
        raise NotPossible(
            f"two cutoffs are meant: {limits_file} keeps its status in {directory}, "
            f"and the guard's settings look at {chiller.cutoff_status}\n"
            "  mend: make `chiller.cutoff` and the cutoff's `runtime_directory` agree"
        )
    return chiller, directory


@dataclass(frozen=True, slots=True)
class _Test:
    tank: RunningTank
    cutoff: Path
    standing: Standing
    by_feedback: bool

    def prepared_and_made(self) -> Verdict:
        """Lead the person through it; return how it came out, once that is on record."""
        tell("Proof test: the cutoff opens its contact while the chiller runs, and the chiller must stop.")
        tell("Stay at the tank until it is over: some minutes.  Ctrl-C ends it; the cutoff then closes its")
        tell("contact again by its own rule.  Touch no mains wiring.")
        with AskedOutput(self.tank, NAME) as asked:
            return self._made(asked)

    def _made(self, asked: AskedOutput) -> Verdict:
        self._made_to_run(asked)
        before = self._runs()
        if not agreed("\nOpen the cutoff's contact now?"):
            raise NotPossible("the test was not begun; nothing was switched")
        before = self._still_runs(before)
        opened_s = self._opened()
        self.standing.words = "the cutoff closes its contact again by its own rule; that is on record"
        try:
            verdict = self._watched(before, opened_s) if self.by_feedback else self._asked(before, opened_s)
        except (click.Abort, KeyboardInterrupt):
            verdict = Verdict(STOPPED, "the person ended the test before anything was seen")
            self._record(verdict)
            raise
        self._record(verdict)
        return verdict

    def _made_to_run(self, asked: AskedOutput) -> None:
        """Have the guard run the chiller as far as its own rules let it, also while the test lasts."""
        chiller = asked.shown(self.tank.status())
        cutoff = read_object(self.cutoff / "status.json")
        if cutoff.get("permits") is not True:
            why = cutoff.get("why", "nothing is known of it")
            raise NotPossible(
                f"the cutoff's contact is open already ({why}), so nothing would be seen to stop\n"
                "  mend: see `reefguard cutoff status`, and test once cooling may run"
            )
        if chiller.get("on") is not True:
            tell(f"\nThe chiller stands: {chiller.get('why', 'nobody says why')}.")
            if not agreed("Shall the guard start it for this test, as far as its own rules let it?"):
                raise NotPossible("a chiller that stands proves nothing; mend: come back when it runs")
        self.standing.words = "the guard does with the chiller what the water asks for"
        asked.turn(on=True)

    def _runs(self) -> Look:
        """Return a look at the running chiller."""
        look = self._look()
        self._must_run(look)
        if look is None:
            raise NotPossible("the guard says nothing of a chiller")
        if not self.by_feedback:
            if not agreed("\nGo to the chiller.  Does its compressor run, now?"):
                raise NotPossible(
                    "a chiller that stands proves nothing\n"
                    "  mend: see why it does not start (its own thermostat, plug, fuse), then test again"
                )
            return look
        tell("\nThe running feedback is looked at ...")
        seen = self.tank.until(self._seen_running, _FEEDBACK_WITHIN_S)
        if seen is None:
            raise NotPossible(
                "the chiller is commanded on, and its running feedback does not say that it runs\n"
                "  mend: look at its own thermostat, its plug and its fuse, and at the feedback's contact"
            )
        tell("  it says that the chiller runs")
        return seen

    def _still_runs(self, before: Look) -> Look:
        """Look once more: a person may have thought for long, and a chiller has a thermostat of its own."""
        look = look_at(self.tank.next_status()) or before
        self._must_run(look)
        if self.by_feedback and not look.running:
            raise NotPossible(
                "meanwhile the running feedback says that the chiller stands: nothing would be seen to stop\n"
                "  mend: set its own thermostat lower for the test, or come back when it runs"
            )
        return look

    def _must_run(self, look: Look | None) -> None:
        if look is None or not look.on:
            why = self.tank.status().get("outputs", {}).get("chiller", {}).get("why", "no reason is known")
            raise NotPossible(
                f"the chiller stands ({why}), so nothing would be seen to stop\n"
                "  mend: come back when it runs"
            )

    def _seen_running(self) -> Look | None:
        look = self._look()
        return look if look is not None and look.on and look.running else None

    def _look(self) -> Look | None:
        return look_at(self.tank.status())

    def _opened(self) -> float:
        """Have the cutoff open its contact; return when it did, by the boot clock.

        The cutoff itself decides.
        """
        try:
            request = ask_for(TESTS_DIRECTORY_NAME, self.cutoff, os.environ.get("SUDO_USER"))
        except FileNotFoundError:
            raise NotPossible(
                "the cutoff takes no proof tests: it does not run, or is of an earlier version\n"
                "  mend: sudo systemctl restart reefguard-cutoff"
            ) from None
        except PermissionError:
            raise NotPossible(
                "you may not ask the cutoff: only members of its group may\n"
                "  mend: sudo usermod -aG reefguard-cutoff $USER, and log in again (or use sudo now)"
            ) from None
        except OSError as error:
            raise NotPossible(f"the cutoff cannot be asked: {error.strerror or error}") from None
        until_s = time.monotonic() + _ANSWER_WITHIN_S
        try:
            while time.monotonic() < until_s:
                status = read_object(self.cutoff / "status.json")
                said = status.get("last_test")
                if isinstance(said, dict) and said.get("request") == request.name:
                    return self._since(status, said)
                time.sleep(_LOOK_EVERY_S)
        finally:
            request.withdraw(self.cutoff)
        raise NotPossible(
            "no answer came: the cutoff does not run, or hangs\n  mend: see `reefguard cutoff status`"
        )

    def _since(self, status: dict[str, object], said: dict[str, object]) -> float:
        if said.get("accepted") is not True:
            raise NotPossible(str(said.get("why", "the cutoff refused")))
        tell(str(said.get("why", "")))
        since_s = status.get("proof_test_since_s")
        return float(since_s) if isinstance(since_s, int | float) else self.tank.clock.boot_s()

    def _watched(self, before: Look, opened_s: float) -> Verdict:
        tell("\nThe running feedback is looked at ...")

        def judged() -> Verdict | None:
            look = self._look()
            return None if look is None else by_feedback(look, before, opened_s)

        try:
            verdict = self.tank.until(judged, 2.0 * PROOF_TEST_S)
        except NotPossible:
            verdict = None
        return verdict or Verdict("inconclusive", "the guard stopped telling what it sees")

    def _asked(self, before: Look, opened_s: float) -> Verdict:
        answer = chosen(
            f"\nGo to the chiller, within {span(PROOF_TEST_S)}.  Does its compressor stand still?", _SAYS
        )
        try:
            look = look_at(self.tank.next_status())
        except NotPossible:
            look = None
        return by_person(answer, look, before, opened_s)

    def _record(self, verdict: Verdict) -> None:
        details = {"seen_by": "feedback" if self.by_feedback else "person"}
        self.tank.put_on_record(PROOF_TEST, "cutoff", verdict.outcome, verdict.what, details)


def _say(verdict: Verdict, tank: RunningTank) -> None:
    tell(f"\n{verdict.outcome}: {verdict.what}")
    if verdict.outcome == PASSED:
        days = tank.settings.chiller.proof_test_every_days if tank.settings.chiller is not None else None
        tell("" if days is None else f"The next one is due in {days:g} days.")
        tell("Nothing is to be reset: see `reefguard cutoff status` for when cooling may run again.")
        sys.exit(Ended.PASSED)
    if verdict.outcome == FAILED:
        tell("UNPLUG THE CHILLER when nobody watches it: if the guard's relay sticks too, nothing stops it.")
        tell("Have an electrician look at the cutoff's relay and its wiring, then run this test again.")
        sys.exit(Ended.FAILED)
    tell("It proves nothing.  mend: run it again when the chiller runs.")
    sys.exit(Ended.NOT_DONE)
