"""What waits is written, also when the end comes in the middle of a failure."""

import threading
import time
from pathlib import Path

from reefguard.records.writing_queue import WritingQueue

DEADLINE_S = 60.0


class Kept:
    """A store in memory."""

    def close(self) -> None:
        """Nothing is open."""


class FailsOnce(WritingQueue[int, Kept]):
    """The first try to open fails, once it is told to."""

    def __init__(self) -> None:
        self.began, self.fails = threading.Event(), threading.Event()
        self.tries = 0
        self.written: list[int] = []
        super().__init__("fails once", retry_after_s=1_000.0, most_waiting=10, at_once=2)

    def end_is_asked_for(self) -> bool:
        with self._changed:
            return self._stop

    def _open(self) -> Kept:
        self.tries += 1
        if self.tries == 1:
            self.began.set()
            assert self.fails.wait(DEADLINE_S)
            raise OSError(28, "No space left on device")
        return Kept()

    def _set_aside(self) -> Path:
        raise OSError

    def _write(self, store: Kept, batch: list[int]) -> None:
        del store
        self.written += batch


def test_a_try_that_began_before_the_end_is_followed_by_one_more() -> None:
    queue = FailsOnce()
    queue.add(1, 2, 3)
    assert queue.began.wait(DEADLINE_S)
    ending = threading.Thread(target=queue.finish, args=(DEADLINE_S,))
    ending.start()
    deadline_s = time.monotonic() + DEADLINE_S
    while not queue.end_is_asked_for():
        assert time.monotonic() < deadline_s, "the end was never asked for"
        time.sleep(0.01)
    queue.fails.set()
    ending.join(DEADLINE_S)
    assert queue.written == [1, 2, 3]
    assert queue.trouble is None
