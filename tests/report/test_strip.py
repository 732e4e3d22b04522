"""The strip of a story on a device of two buttons."""

from nudgeproof.report.strip import draw_strip
from nudgeproof.verdict import Scene


def scene(closed: tuple[str, ...], pressed: tuple[str, ...], state: str = "idle") -> Scene:
    return Scene(state, (), closed, pressed, runs=True, cell=None, power=None)


def test_each_button_has_two_rows_of_its_own() -> None:
    scenes = [scene((), ()), scene(("pad",), ()), scene(("pad", "rim"), ("pad",)), scene(("rim",), ("rim",), "lit")]
    rows = draw_strip(scenes, [0, 20_000, 40_000], ("pad", "rim"), 40, ascii_only=True)
    assert [row[:10].rstrip() for row in rows] == ["pad", "firmware", "rim", "firmware", "device"]
    pad, read_pad, rim, read_rim, device = (row[10:] for row in rows)
    begin = device.index("lit") - 1
    assert "#" in pad[:begin]
    assert "#" not in pad[begin:]
    assert rim[begin:].strip("#") == ""
    assert read_pad.count("#") < pad.count("#")
    assert read_rim.index("#") == begin
    assert pad.index("#") < rim.index("#") < read_rim.index("#")


def test_power_has_a_row_where_the_device_is_reset_though_no_cell_is_out() -> None:
    on, off = (Scene("lit", (), (), (), runs=on, cell=None, power=on) for on in (True, False))
    rows = draw_strip([on, off, on], [20_000, 40_000], ("pad",), 40, ascii_only=True)
    assert [row[:10].rstrip() for row in rows] == ["pad", "firmware", "power", "device"]
    assert "_" in rows[2][10:]
    assert [row[:10].rstrip() for row in draw_strip([on, on], [20_000], ("pad",), 40, True)] == [
        "pad",
        "firmware",
        "device",
    ]
