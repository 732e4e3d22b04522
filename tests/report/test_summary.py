"""The table below several files."""

from nudgeproof.report.summary import Row, show_summary
from tests.snapshots.screens import run

WAKE = "specs/failures/accidental-wake"


def test_the_worst_comes_first_and_the_same_in_their_order() -> None:
    rows = [
        Row("c", 3, "holds", "2 hold"),
        Row("b", 0, "broken", "1 broken"),
        Row("a", 3, "holds"),
        Row("d", -1, "bad input"),
    ]
    assert show_summary(rows, "specs") == (
        "4 specs: 1 bad input, 1 broken, 2 holds\n"
        "  bad input  d\n"
        "  broken     b  1 broken\n"
        "  holds      c  2 hold\n"
        "  holds      a\n"
    )


def test_a_long_name_stays_whole_and_no_other_line_is_wider_than_a_terminal() -> None:
    long, told = "specs/" + "lamp" * 20 + ".yaml", "1 broken, 2 undecided, 3 hold; 12 not asked, 2 of them required"
    lines = show_summary([Row(long, 0, "broken", told), Row("灯" * 20, 3, "holds", told)], "specs").splitlines()
    assert [line for line in lines if len(line) > 80] == [f"  broken  {long}"]
    assert " ".join(" ".join(lines[2:]).split()).startswith(told)


def test_check_and_follow_end_with_it_only_if_there_are_several() -> None:
    table = (
        "3 specs: 1 bad input, 1 broken, 1 holds\n"
        "  bad input  pyproject.toml\n"
        f"  broken     {WAKE}/broken.yaml  1 broken, 4 hold\n"
        f"  holds      {WAKE}/mended.yaml  6 hold\n"
    )
    code, out, _ = run("check", f"{WAKE}/mended.yaml", f"{WAKE}/broken.yaml", "pyproject.toml")
    assert code == 2
    assert out.endswith("\n\n" + table)
    assert " specs: " not in run("check", f"{WAKE}/mended.yaml")[1]
    assert " specs: " not in run("check", "--json", "-", f"{WAKE}/mended.yaml", f"{WAKE}/broken.yaml")[1]
    out = run("check", f"{WAKE}/mended.yaml", f"{WAKE}/mended.yaml", "--require", "lost-state")[1]
    assert "  never came up  specs/failures/accidental-wake/mended.yaml" in out
    assert "22 not asked, 1 of them required" in " ".join(out[out.index("2 specs") :].split())

    short, spec = "recordings/rain-cover-light-hold-too-short.csv", "specs/rain-cover-light.yaml"
    where = ("--map", "recordings/rain-cover-light.map.yaml")
    code, out, _ = run("follow", spec, "recordings/rain-cover-light.csv", short, *where)
    assert code == 1
    assert out.endswith(
        "\n\n2 recordings: 1 refused, 1 conforms\n"
        f"  refused   {short}  at 1.48739 s\n"
        "  conforms  recordings/rain-cover-light.csv\n"
    )
    assert " recordings: " not in run("follow", spec, short, *where)[1]
