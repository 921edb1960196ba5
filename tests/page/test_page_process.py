"""The page as the link serves it: a real process, a guard's real files, a real port."""

import http.client
import signal
from contextlib import closing
from pathlib import Path

from link_rig import GuardFiles, LinkFiles, start_link, wait_for
from real_broker import free_port


def asked(port: int, path: str = "/", host: str = "localhost") -> tuple[int, str]:
    """Ask the page; 0 where nobody answers."""
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60.0)) as connection:
        try:
            connection.request("GET", path, headers={"Host": host})
            answer = connection.getresponse()
            return answer.status, answer.read().decode()
        except OSError:
            return 0, ""


def test_the_link_serves_the_page_and_takes_it_away_when_it_ends(tmp_path: Path) -> None:
    guard = GuardFiles(tmp_path)
    port = free_port()
    files = LinkFiles(tmp_path, guard, {}, f'  page: {{listen: "127.0.0.1:{port}", hosts: [reef.lan]}}\n')
    guard.status(
        sampling_s=3_600.0,
        water={
            "warmest_c": 26.5,
            "warmest_probe": "a",
            "coldest_c": 26.25,
            "coldest_probe": "b",
            "age_s": 1.0,
        },
        safe_band={"low_c": 24.0, "high_c": 27.8},
    )
    guard.event("raised", "water high")
    process = start_link(files)
    wait_for(lambda: asked(port)[0] == 200, "the page")
    said = asked(port)[1]
    assert "26.5" in said
    assert "Small reef" in said
    assert asked(port, host="reef.lan:80")[0] == 200
    assert asked(port, host="evil.example")[0] == 421
    for path, word in (("/look.css", "--paper"), ("/page.js", "use strict"), ("/icon.svg", "<svg")):
        assert word in asked(port, path)[1], "shipped with the package"
    (guard.runtime / "status.json").unlink()
    assert "NOT LIVE" in asked(port, "/now")[1]
    # Settings read again: the page moves.
    other = free_port()
    files.write(f'  page: {{listen: "127.0.0.1:{other}"}}\n')
    process.send_signal(signal.SIGHUP)
    wait_for(lambda: asked(other)[0] == 200, "the page at its new place")
    wait_for(lambda: asked(port)[0] == 0, "nothing at the old one")
    process.send_signal(signal.SIGTERM)
    assert process.wait(60.0) == 0
    assert asked(other)[0] == 0
