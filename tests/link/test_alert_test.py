"""`reefguard alert-test`, through a real SMTP server and a real HTTP receiver."""

import email
import socket
from email.message import EmailMessage
from email.policy import default
from pathlib import Path

from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Sink
from aiosmtpd.smtp import SMTP, Envelope, Session
from link_rig import GuardFiles, LinkFiles, Receiver, run_program

CHANNELS = "  channels:\n    mail: {secret: mail}\n    hook: {secret: hook}\n"


class Postbox(Sink):
    """Keeps what it is sent."""

    def __init__(self) -> None:
        super().__init__()
        self.letters: list[EmailMessage] = []

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802  aiosmtpd's own name
        assert isinstance(envelope.content, bytes)
        letter = email.message_from_bytes(envelope.content, policy=default)
        assert isinstance(letter, EmailMessage)
        self.letters.append(letter)
        return "250 OK"


def test_every_channel_gets_a_message_marked_test_and_says_what_it_answered(tmp_path: Path) -> None:
    postbox = Postbox()
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    post = Controller(postbox, hostname="127.0.0.1", port=port)
    post.start()
    try:
        with Receiver() as receiver:
            to = "from=tank@example.org&to=keeper@example.org&mode=insecure"
            mail = f"mailto://127.0.0.1:{port}?{to}\n"
            secrets = {"mail": mail, "hook": f"json://127.0.0.1:{receiver.port}/hushhush\n"}
            files = LinkFiles(tmp_path, GuardFiles(tmp_path), secrets, CHANNELS)
            all_well = run_program("alert-test", "--settings", str(files.settings))
            receiver.refuses = True
            one_fails = run_program("alert-test", "--settings", str(files.settings))
            only_mail = run_program("alert-test", "--settings", str(files.settings), "mail")
    finally:
        post.stop()
    assert (all_well.returncode, all_well.stdout, all_well.stderr) == (0, "mail: taken\nhook: taken\n", "")
    assert one_fails.returncode == 1
    assert one_fails.stdout.startswith("mail: taken\nhook: NOT taken: ")
    assert "hushhush" not in one_fails.stdout + one_fails.stderr
    assert (only_mail.returncode, only_mail.stdout) == (0, "mail: taken\n")
    assert receiver.titles == ["Small reef, TEST: nothing is wrong"]
    assert len(postbox.letters) == 3
    assert postbox.letters[0]["Subject"] == "Small reef, TEST: nothing is wrong"
    assert "TEST of the channel `mail`" in postbox.letters[0].as_string()
    assert not files.state.exists(), "a test leaves nothing behind"


def test_a_secret_that_others_can_read_is_not_used(tmp_path: Path) -> None:
    with Receiver() as receiver:
        secrets = {"hook": f"json://127.0.0.1:{receiver.port}/hushhush\n"}
        files = LinkFiles(tmp_path, GuardFiles(tmp_path), secrets, "  channels: {hook: {secret: hook}}\n")
        (files.secrets / "hook").chmod(0o644)
        ran = run_program("alert-test", "--settings", str(files.settings))
    assert (ran.returncode, receiver.calls) == (1, [])
    assert "can be read by others" in ran.stdout
    assert "hushhush" not in ran.stdout


def test_a_channel_that_is_none_is_told_with_those_there_are(tmp_path: Path) -> None:
    files = LinkFiles(tmp_path, GuardFiles(tmp_path), {}, CHANNELS)
    ran = run_program("alert-test", "--settings", str(files.settings), "phone")
    assert (ran.returncode, ran.stdout) == (1, "")
    assert ran.stderr == (
        "reefguard alert-test: there is no channel `phone`\n  mend: name one of `mail`, `hook`\n"
    )
    files.write("")
    ran = run_program("alert-test", "--settings", str(files.settings))
    assert ran.returncode == 1
    assert "write one under `link.channels`" in ran.stderr


def test_settings_without_a_link_are_told(tmp_path: Path) -> None:
    files = LinkFiles(tmp_path, GuardFiles(tmp_path), {}, "")
    files.settings.write_text(
        files.settings.read_text(encoding="utf-8").partition("link:")[0], encoding="utf-8"
    )
    for command in ("alert-test", "link"):
        ran = run_program(command, "--settings", str(files.settings))
        assert ran.returncode == 78
        assert "says nothing of a link" in ran.stderr
