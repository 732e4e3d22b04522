"""nudgeproof as a pytest plugin: specs, trials and recordings as tests, and a fixture for tests in Python.

pytest loads this module at every start, so it imports nothing but pytest; all else comes when a setting of the ini file asks
for it, or when a spec is named on the command line. docs/tests.md is for those who use it.

A test is a question, so its verdict is the one of `check`; what is undecided, or never came up, fails. Its text is what the
terminal would show. Nothing is kept between items but what one file's questions share, so any order and any distribution
over processes gives the same.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from nudgeproof.pytest_plugin.settings import Settings
    from nudgeproof.testing import Place

FAIL, SKIP = "fail", "skip"
EFFORTS = ("quick", "usual", "deep")
_PATTERNS = {
    "nudgeproof_specs": "specs to collect, as patterns: specs/*.yaml",
    "nudgeproof_require": "hazards that must be asked of each spec, or `all`",
}
_LINES = {
    "nudgeproof_trials": "firmware to try, a line each, as after `nudgeproof trial`: SPEC --rig RIG --map MAP",
    "nudgeproof_recordings": "recordings to follow, a line each, as after `nudgeproof follow`: SPEC FILE... --map MAP",
}
_WORDS = {
    "nudgeproof_effort": ("usual", "how much to look at before giving up: quick, usual or deep"),
    "nudgeproof_undecided": (FAIL, "what becomes of a question that is undecided or never came up: fail or skip"),
    "nudgeproof_known": (
        "",
        "a file with the name of a test on each line: they are known to fail, and fail if they don't",
    ),
}
ASKED: pytest.StashKey[Settings] = pytest.StashKey()
"""What the ini file asks for, where something was read of it."""


def pytest_addoption(parser: pytest.Parser) -> None:
    """What the ini file may say."""
    for name, means in _PATTERNS.items():
        parser.addini(name, means, type="args", default=[])
    for name, means in _LINES.items():
        parser.addini(name, means, type="linelist", default=[])
    for name, (default, means) in _WORDS.items():
        parser.addini(name, means, default=default)


def pytest_configure(config: pytest.Config) -> None:
    """Read the settings if there are any, and add what they ask for where no path was named."""
    about = "a question, a trial or a recording that nudgeproof judges; each is also marked with its hazard's name"
    config.addinivalue_line("markers", f"nudgeproof: {about}")
    asked = any(config.getini(name) for name in (*_PATTERNS, *_LINES))
    if asked or any(config.getini(name) != default for name, (default, _) in _WORDS.items()):
        settings = _settings(config)
        if config.args_source is not pytest.Config.ArgsSource.ARGS and config.invocation_params.dir == config.rootpath:
            config.args.extend(str(path) for path in settings.files if not _is_below(path, config))


def _settings(config: pytest.Config) -> Settings:
    from nudgeproof.pytest_plugin.settings import read_settings

    if ASKED not in config.stash:
        config.stash[ASKED] = read_settings(config)
    return config.stash[ASKED]


def _is_below(path: Path, config: pytest.Config) -> bool:
    """Whether a folder that is collected anyway leads to the file."""
    folders = [(config.invocation_params.dir / argument).resolve() for argument in config.args]
    return any(folder == path or folder in path.parents for folder in folders)


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """A collector for a file that the settings ask for, or for a spec that was named on the command line."""
    settings = parent.config.stash.get(ASKED, None)
    if settings is not None:
        found = settings.collector(file_path, parent)
        if found is not None:
            return found
    if file_path.suffix in (".yaml", ".yml") and parent.session.isinitpath(file_path):
        from nudgeproof.pytest_plugin.settings import is_spec

        if is_spec(file_path):
            return _settings(parent.config).spec(file_path, parent)
    return None


@pytest.fixture(scope="session")
def nudgeproof(pytestconfig: pytest.Config) -> Place:
    """`check`, `follow` and `rig` of `nudgeproof.testing`, with paths from pytest's root folder."""
    from nudgeproof.testing import Place

    return Place(pytestconfig.rootpath)
