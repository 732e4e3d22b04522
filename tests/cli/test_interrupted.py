"""Stopped at any instant, a command says one word at most, leaves whole files, and can be run again."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.interrupted import JOBS, ROOT, fresh, judge, run

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals are sent here as POSIX has them")


def test_a_write_that_is_stopped_at_any_call_leaves_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "tests.cli.interrupted", "writes", str(tmp_path)]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True)
    assert done.stderr == ""
    (told,) = done.stdout.splitlines()
    assert int(told.removeprefix("tried ")) > 300


def test_a_check_that_is_stopped_is_quiet_and_ends_as_ever_when_run_again(tmp_path: Path) -> None:
    job = JOBS[0]
    whole = run(job, fresh(job, tmp_path, True))
    assert whole.code == 1
    assert whole.err == b""
    for share, number in ((0.0, signal.SIGINT), (0.5, signal.SIGTERM), (0.95, signal.SIGINT)):
        folder = fresh(job, tmp_path, True)
        stopped = run(job, folder, max(2, int(share * whole.calls)), number)
        again = run(job, folder) if share == 0.5 else whole
        assert list(judge(job, whole, stopped, again, number, True)) == []
        assert stopped.code == (130 if number is signal.SIGINT else -number)


def test_what_is_ignored_stays_ignored() -> None:
    """As under `nohup`, and for a job in the background of a script."""
    line = f'trap "" INT HUP; exec "{sys.executable}" -c "$0"'
    code = (
        "import os, signal; from nudgeproof.cli.stopping import stop_quietly; stop_quietly();"
        "os.kill(os.getpid(), signal.SIGINT); os.kill(os.getpid(), signal.SIGHUP); print('goes on')"
    )
    done = subprocess.run(["sh", "-c", line, code], cwd=ROOT, capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "goes on\n")
