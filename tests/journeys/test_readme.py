"""The README's ten minutes, word for word, against a really started service."""

import os
import re
import shutil
import subprocess
from pathlib import Path

import orjson

from tests.processes.house import free_port

ROOT = Path(__file__).parents[2]
BLOCK = re.compile(r"^```sh\n(.*?)^```", re.DOTALL | re.MULTILINE)


def test_the_ten_minutes_work_word_for_word(tmp_path: Path) -> None:
    assert shutil.which("curl"), "the README's examples use curl"
    (tmp_path / ".venv").symlink_to(ROOT / ".venv", target_is_directory=True)
    (tmp_path / "var").mkdir()
    text = "".join(BLOCK.findall((ROOT / "README.md").read_text("utf-8")))
    # Only the port may differ: another run may be using the one that is printed.
    script = "set -eu\n" + text.replace("8010", str(free_port()))
    kept = {name: value for name, value in os.environ.items() if not name.startswith("DIPLEDGER_")}
    done = subprocess.run(
        ["bash", "-c", script],
        cwd=tmp_path,
        env=kept,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    assert "/problems/" not in done.stdout, done.stdout
    cleared = orjson.loads((tmp_path / "var/cleared.json").read_bytes())
    assert cleared["lot"]["state"] == "cleared"
    assert cleared["certificate"]["check_url"] in done.stdout
    assert '"order_ref":"W-1001"' in done.stdout
    assert "intact" in done.stdout
