"""What the tree promises: short modules, docstrings, no path of one machine, a README whose commands CI runs."""

import re
import subprocess
from pathlib import Path

import pytest

from nudgeproof.hazards import HAZARDS

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted((ROOT / "src").rglob("*.py"))


def tracked() -> list[Path]:
    done = subprocess.run(["git", "ls-files", "-co", "--exclude-standard"], cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        pytest.skip("not a git checkout")
    return [ROOT / name for name in done.stdout.splitlines() if (ROOT / name).is_file()]


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: path.name)
def test_a_module_has_one_subject(source: Path) -> None:
    lines = source.read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 450
    assert lines[0].startswith('"""')


def test_no_file_names_a_place_on_one_machine() -> None:
    home = re.compile(r"(?<![\w.])/(?:home|root|Users|work|tmp)/\w")
    texts = (path for path in tracked() if path.suffix not in (".png", ".svg"))
    hits = [str(path) for path in texts if home.search(path.read_text(encoding="utf-8", errors="replace"))]
    assert hits == []


def test_the_readme_names_every_hazard_and_what_it_means() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for hazard in HAZARDS:
        assert f"| `{hazard.NAME}` | {hazard.MEANS} |" in readme


def test_every_link_of_the_readme_leads_somewhere() -> None:
    for name in ("README.md", "DEVELOPERS.md"):
        for link in re.findall(r"\]\(([^)#]+)\)", (ROOT / name).read_text(encoding="utf-8")):
            assert (ROOT / link).exists(), link


def test_ci_runs_the_two_lines_of_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = re.findall(r"^\$ (.*)$", readme, re.MULTILINE)[:2]
    assert "nudgeproof check specs/" in lines[0]
    assert "pytest" in lines[1]
    assert "README.md" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
