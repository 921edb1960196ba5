"""The record of commissioning: what is written is what is read, and nothing on disk is ever lost."""

import json
import os
import stat
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from multiprocessing import Process
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.commissioning import record
from reefguard.commissioning.record import Record, as_line, from_line, proof_tests
from reefguard.control.proof_tests import due_at
from reefguard.records import commissioning_log
from reefguard.vocabulary import ProofTests

NOON = datetime(2031, 7, 14, 12, tzinfo=UTC)


def a_record(outcome: str = record.PASSED, at: datetime = NOON, kind: str = record.PROOF_TEST) -> Record:
    return Record(kind, "cutoff", at, True, "ann", "the reef", outcome, "it stood", {"seen_by": "person"})


texts = st.text(st.characters(codec="utf-8"))
offsets = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
years = st.integers(1970, 9000)
whens = st.builds(
    lambda at, year: at.replace(year=year, day=min(at.day, 28), microsecond=0),
    st.datetimes(timezones=offsets),
    years,
)
details = st.dictionaries(texts, st.none() | st.booleans() | st.integers() | texts)
records = st.builds(Record, texts, texts, whens, st.booleans(), texts, texts, texts, texts, details)


@given(records)
def test_what_is_written_is_what_is_read_in_one_line(written: Record) -> None:
    line = as_line(written)
    assert len(line.splitlines()) == 1 or not line.isascii()
    assert "\n" not in line
    assert from_line(line) == written


@given(
    st.text()
    | st.recursive(st.none() | st.booleans() | st.floats() | st.text(), st.lists, max_leaves=4).map(
        json.dumps
    )
    | st.dictionaries(
        st.sampled_from(["schema", "kind", "at_wall", "who"]), st.text() | st.just(record.SCHEMA)
    ).map(json.dumps)
)
def test_a_line_that_is_no_record_is_none(line: str) -> None:
    found = from_line(line)
    assert found is None or found.at_wall.utcoffset() is not None


def test_a_time_without_its_offset_says_nothing() -> None:
    line = as_line(a_record()).replace("+00:00", "")
    assert from_line(line) is None


@pytest.mark.parametrize("at", ["9999-12-31T23:59:59+00:00", "0001-01-01T00:00:00+14:00"])
def test_a_time_that_cannot_be_reckoned_with_ends_no_tick(at: str) -> None:
    """A day more than the calendar's last is an error in Python, and each tick adds the interval."""
    line = as_line(a_record()).replace(NOON.isoformat(), at)
    found = from_line(line)
    known = proof_tests([] if found is None else [found])
    assert due_at(known, 90.0) is None


def test_a_line_with_half_a_character_is_none() -> None:
    """Whoever shows it, or writes it into a page, would fail at it."""
    assert from_line(as_line(a_record()).replace("ann", "\\ud800")) is None


def test_a_name_that_is_no_text_costs_no_record(tmp_path: Path) -> None:
    odd = replace(a_record(), who="ann\udcff")
    commissioning_log.append(tmp_path, odd)
    assert commissioning_log.read(tmp_path) == (replace(odd, who="ann?"),)


@pytest.mark.parametrize("odd", ["\u2028", "\u2029", "\x85", "\x1e", "\r", "\n"])
def test_a_character_that_ends_a_line_for_python_only_costs_no_record(tmp_path: Path, odd: str) -> None:
    written = replace(a_record(), tank=f"the{odd}reef")
    commissioning_log.append(tmp_path, written)
    assert commissioning_log.read(tmp_path) == (written,)


@pytest.mark.parametrize(
    ("outcomes", "known"),
    [
        ([], ProofTests()),
        ([record.PASSED], ProofTests(passed=NOON)),
        ([record.FAILED], ProofTests(failed=NOON)),
        ([record.PASSED, record.FAILED], ProofTests(passed=NOON, failed=NOON + timedelta(days=1))),
        ([record.FAILED, record.PASSED], ProofTests(passed=NOON + timedelta(days=1))),
        ([record.PASSED, record.INCONCLUSIVE, record.STOPPED], ProofTests(passed=NOON)),
        ([record.FAILED, record.INCONCLUSIVE], ProofTests(failed=NOON)),
    ],
)
def test_the_last_conclusive_test_counts(outcomes: list[str], known: ProofTests) -> None:
    told = [a_record(outcome, NOON + timedelta(days=day)) for day, outcome in enumerate(outcomes)]
    assert proof_tests(told) == known
    assert proof_tests([*told, a_record(record.FAILED, kind=record.EXERCISE)]) == known


def test_records_are_kept_in_their_order(tmp_path: Path) -> None:
    commissioning_log.prepare(tmp_path / "a" / "commissioning")
    directory = tmp_path / "a" / "commissioning"
    assert commissioning_log.read(directory) == ()
    written = [a_record(at=NOON + timedelta(days=day)) for day in range(3)]
    for one in written:
        commissioning_log.append(directory, one)
    assert commissioning_log.read(directory) == tuple(written)
    assert stat.S_IMODE(directory.stat().st_mode) == 0o770


def test_what_cannot_be_understood_is_passed_over_and_kept(tmp_path: Path) -> None:
    path = tmp_path / commissioning_log.FILE_NAME
    path.write_bytes(b'{"schema": "of another version"}\n\xff\xfe half a li')
    commissioning_log.append(tmp_path, a_record())
    assert path.read_bytes().startswith(b'{"schema": "of another version"}\n\xff\xfe half a li\n{"schema"')
    assert commissioning_log.read(tmp_path) == (a_record(),)


def test_two_persons_at_the_same_moment_lose_nothing(tmp_path: Path) -> None:
    both = [Process(target=_many, args=(tmp_path, who)) for who in ("ann", "ben")]
    for one in both:
        one.start()
    for one in both:
        one.join()
        assert one.exitcode == 0
    assert len(commissioning_log.read(tmp_path)) == 40


def _many(directory: Path, who: str) -> None:
    for _ in range(20):
        commissioning_log.append(directory, a_record())


def _a_link(path: Path) -> None:
    secret = path.with_name("secret")
    secret.write_text("of root\n", encoding="utf-8")
    path.symlink_to(secret)


def _a_huge_file(path: Path) -> None:
    path.touch()
    os.truncate(path, 5_000_000_000)


@pytest.mark.parametrize(
    "planted",
    [
        _a_link,
        lambda path: path.symlink_to("/dev/zero"),
        os.mkfifo,
        Path.mkdir,
        _a_huge_file,
    ],
    ids=["a link to a secret", "a link to what has no end", "a FIFO", "a directory", "a huge file"],
)
def test_what_a_member_of_the_group_plants_is_neither_read_nor_copied(
    tmp_path: Path, planted: Callable[[Path], object]
) -> None:
    planted(tmp_path / commissioning_log.FILE_NAME)
    before = len(list(Path("/proc/self/fd").iterdir()))
    with pytest.raises(OSError):  # noqa: PT011  which one differs, and all are handled alike
        commissioning_log.read(tmp_path)
    with pytest.raises(OSError):  # noqa: PT011  as above
        commissioning_log.append(tmp_path, a_record())
    assert len(list(Path("/proc/self/fd").iterdir())) == before, "the guard looks once a minute, for years"
    if planted is _a_link:
        assert (tmp_path / commissioning_log.FILE_NAME).is_symlink()


def test_a_link_planted_beside_it_is_not_written_through(tmp_path: Path) -> None:
    """The name that a file is written under first can be guessed: the number of the process is in it."""
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_bytes(b"theirs")
    (tmp_path / f".{commissioning_log.FILE_NAME}.{os.getpid()}.new").symlink_to(elsewhere)
    with suppress(OSError):
        commissioning_log.append(tmp_path, a_record())
    assert elsewhere.read_bytes() == b"theirs"
    commissioning_log.append(tmp_path, a_record())
    assert commissioning_log.read(tmp_path)[-1] == a_record()


def test_a_record_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        commissioning_log.append(tmp_path / "nowhere", a_record())
    (tmp_path / commissioning_log.FILE_NAME).mkdir()
    with pytest.raises(OSError, match="it is no file"):
        commissioning_log.append(tmp_path, a_record())
    with pytest.raises(OSError, match="it is no file"):
        commissioning_log.read(tmp_path)
