"""Faults in what gates changes: questions answered one by one, the plugin, the board, the table of several files."""

from __future__ import annotations

from tests.quality.planted.fault import into

_PLUGIN = "tests/pytest_plugin/test_specs.py"
_piecemeal = into("piecemeal", "tests/test_piecemeal.py")
_specs = into("pytest_plugin/specs", _PLUGIN)
_nodes = into("pytest_plugin/nodes", _PLUGIN)
_settings = into("pytest_plugin/settings", _PLUGIN)
_board = into("testing/board", "tests/testing/test_board.py")
_sarif = into("report/sarif", "tests/report/test_sarif.py")
_summary = into("report/summary", "tests/report/test_summary.py")

FAULTS = (
    _piecemeal("what shares an environment is answered apart", "leader[other] = one", "leader[other] = other"),
    _piecemeal("each answer is the first of its entry", "[asked.part]", "[0]"),
    _specs(
        "what never came up passes",
        "if finding.verdict is not Verdict.HOLDS:",
        "if finding.verdict is Verdict.UNDECIDED:",
    ),
    _specs("a hazard that must be asked may be missing", "if hazard not in asked:", "if not asked:"),
    _nodes("what is known to fail may hold", "raises=Failed, strict=True", "raises=Failed, strict=False"),
    _settings("a pattern may fit nothing", "    if not found:\n", "    if found is None:\n"),
    _board(
        "a contact may change twice at once", "self._changed[name] == self.now_us", "self._changed[name] > self.now_us"
    ),
    _board("what was seen is seen for ever", "self._seen[0] != self.now_us", "self._seen[0] > self.now_us"),
    _sarif("what is undecided is left out", "is not Verdict.HOLDS]", "is Verdict.BROKEN]"),
    _summary("the best comes first", "key=lambda row: row.rank", "key=lambda row: -row.rank"),
)
