"""How long `reefguard report` takes over a real year of history and events, as a whole command.

Run by hand: `python tests/bench_report.py [DIRECTORY]`; a year that is not there is written first, in half a
minute.  The result stands in DEVELOPERS.md.
"""

import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from kept_year import DAY_S, ENDS_S, kept_year

_TIMES = 3
_SETTINGS = """\
tank: the lagoon
state_directory: {state}
safe_band: {{low: 24.0 °C, high: 27.0 °C}}
water_probes:
  display: {{id: 28-000000000101}}
  sump: {{id: 28-000000000102}}
  frag: {{id: 28-000000000103}}
fans:
  cut_in: 26.0 °C
  cut_out: 25.6 °C
  units:
    fan1: {{pin: GPIO17, polarity: active high, contact: normally open, at_rest: stopped}}
    fan2: {{pin: GPIO27, polarity: active high, contact: normally open, at_rest: stopped}}
chiller: {{pin: GPIO22, cut_in: 26.5 °C, cut_out: 26.0 °C, minimum_off: 5 min}}
lights: {{on: 10:00, off: 20:00, after_run: 60 min}}
"""


def measure(directory: Path) -> None:
    """Print seconds of each stretch, and what it begins with."""
    with tempfile.TemporaryDirectory() as made:
        settings = Path(made) / "reefguard.yaml"
        settings.write_text(_SETTINGS.format(state=directory), encoding="utf-8")
        for days in (1, 7, 90, 365):
            ends = (datetime.fromtimestamp(at_s, UTC) for at_s in (ENDS_S - days * DAY_S, ENDS_S))
            from_text, to_text = (f"{at:%Y-%m-%d %H:%M}Z" for at in ends)
            command = ["report", "--settings", str(settings), "--from", from_text, "--to", to_text]
            for more in ([], ["--html", str(Path(made) / "report.html")]):
                spent = []
                for _ in range(_TIMES):
                    begun = time.perf_counter()
                    said = subprocess.run(
                        [sys.executable, "-m", "reefguard", *command, *more],
                        capture_output=True,
                        text=True,
                        check=True,
                    )
                    spent.append(time.perf_counter() - begun)
                print(f"{days:4} d {' '.join(more[:1]):6} {sorted(spent)[_TIMES // 2]:.2f} s")
            page = (Path(made) / "report.html").stat().st_size
            print(f"       page {page / 1e3:.0f} kB; {' '.join(said.stdout.split()[:40])}")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        measure(kept_year(Path(sys.argv[1])))
    else:
        with tempfile.TemporaryDirectory() as name:
            measure(kept_year(Path(name)))
