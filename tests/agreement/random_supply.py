"""Random devices whose loads pull at weak cells: small enough that every question about the supply is answered at once."""

from __future__ import annotations

from random import Random

from nudgeproof.parts.script import Edge

END_US = 8_000_000


def sketch(seed: int, capacitor: bool | None = None, chatter: bool = False) -> str:
    """A spec as text. `capacitor`: with one or without, None for either. `chatter`: the firmware reads its cells."""
    rng = Random(f"supply {seed}")
    has_beam = rng.random() < 0.6
    has_memory = rng.random() < 0.7
    sleeps = rng.random() < 0.7
    with_capacitor = rng.random() < 0.5 if capacitor is None else capacitor
    lines = [
        "spec: 1",
        f"device: supply {seed}",
        "buttons: {pad: {bounce: up to 0 ms, debounce: 20 ms ± 5 ms}}",
        "gestures: {tap: {taps: 1, press: up to 400 ms}, hold: {held: 800 ms}}",
    ]
    if has_beam:
        lines.append("variables: {beam: [low, high]}")
    lines += ["initial: stowed", "states:"]
    sleep = (
        "sleep: {woken by: [pad], on: edge, ready in: 2 ms ± 1 ms, dozes again after: 50 ms, each step: up to 20 us}, "
    )
    low = rng.choice(("cell low: stowed, ", "cell low: dim, ")) if chatter else ""
    fine = rng.choice(("", "cell fine: lit, ")) if chatter else ""
    back = rng.choice(("lit", "stowed"))
    tap = "tap: {next: beam}" if has_beam else "tap: dim"
    lines += [
        f"  stowed: {{{sleep if sleeps else ''}transitions: {{hold: lit}}}}",
        f"  lit: {{transitions: {{{low}{tap}, hold: stowed{rng.choice((', after 2 s: dim', ''))}}}}}",
        f"  dim: {{transitions: {{{fine}tap: {back}, hold: stowed}}}}",
    ]
    lines += _memory(rng, has_memory, has_beam)
    lines.append("power up: {takes: 70 ms ± 10 ms, if blank: " + rng.choice(("stowed", "stowed", "lit", "dim")) + "}")
    lines += _supply(rng, with_capacitor, sleeps)
    lines += _loads(rng, has_beam, sleeps, has_memory, "asleep: off" not in "".join(lines))
    if chatter:
        least = rng.choice((230, 245, 260))
        above = least + rng.choice((5, 20, 40))
        lines.append(f"cell: {{low below: {least / 100} V, fine above: {above / 100} V, read every: 200 ms}}")
    sag = ", weak cell: {cell: sags and recovers, meant: true}" if chatter else ""
    lines.append(f"surroundings: {{rattle: {{cell gone: up to 40 ms, then steady at least: 2 s}}{sag}}}")
    return "\n".join(lines) + "\n"


def _memory(rng: Random, has_memory: bool, has_beam: bool) -> list[str]:
    if not has_memory:
        return []
    keeps = "[state, beam]" if has_beam and rng.random() < 0.7 else "[state]"
    guard = rng.choice(("none", "checksum", "two copies"))
    return [f"memory: {{keeps: {keeps}, write takes: 3.4 ms, guard: {guard}, may lose: the last 20 ms}}"]


def _supply(rng: Random, with_capacitor: bool, sleeps: bool) -> list[str]:
    fresh, spent = rng.choice((29, 31, 33)), rng.choice((24, 26, 28))
    spread = rng.choice(("", " ± 2 %"))
    rough = rng.choice(("", " ± 20 %"))
    level = rng.choice(("2.0 V", "2.1 to 2.3 V", "2.2 V ± 2 %", "1.9 to 2.4 V"))
    responds = rng.choice(("2 us", "up to 10 us", "20 to 60 us"))
    again = rng.choice(("", "", ", starts in: stowed", ", starts in: dim, tries: 1", ", starts in: stowed, tries: 2"))
    asleep = rng.choice(("", ", asleep: off")) if sleeps else ""
    lines = [
        "supply:",
        "  cells:",
        f"    fresh: {{open: {fresh / 10} V{spread}, resistance: {rng.choice((5, 10, 15))} ohm{rough}}}",
        *([f"    60 % used: {{open: {(fresh + spent) / 20} V, resistance: 25 ohm}}"] if rng.random() < 0.4 else []),
        f"    spent: {{open: {spent / 10} V{spread}, resistance: {rng.choice((30, 60, 90))} ohm{rough}}}",
    ]
    if "60 %" in "".join(lines):
        lines = [line.replace(spread, "").replace(rough, "") if spread or rough else line for line in lines]
    if rng.random() < 0.3:
        lines.append(f"    used until: {rng.choice((70, 85, 95))} %")
    if with_capacitor:
        lines.append(f"  capacitor: {{size: {rng.choice((47, 100, 220, 330))} uF ± 20 %, leaks: up to 2 uA}}")
    hysteresis = rng.choice(("", ", hysteresis: 50 mV"))
    lines.append(f"  brown-out: {{level: {level}{hysteresis}, responds in: {responds}{asleep}{again}}}")
    return lines


def _loads(rng: Random, has_beam: bool, sleeps: bool, writes: bool, watched_asleep: bool) -> list[str]:
    rough = rng.choice(("", " ± 10 %", " ± 20 %"))
    lines = [
        "loads:",
        f"  standby: {{draws: {rng.choice((2, 20))} uA}}",
        f"  processor: {{draws: {rng.choice((1, 2, 3))} mA{rough}, while: running}}",
    ]
    lamp = rng.choice((f"draws: {rng.choice((4, 8, 12))} mA{rough}", f"power: {rng.choice((10, 20))} mW{rough}"))
    led = rng.choice(("led: 1.8 V ± 3 %, resistor: 47 ohm", "led: 1.6 V, resistor: 100 ohm ± 5 %", "resistor: 330 ohm"))
    if has_beam:
        lines.append(f"  low beam: {{{led}, in: lit, if: beam is low}}")
        lines.append(f"  high beam: {{{lamp}, in: lit, if: beam is high}}")
    else:
        lines.append(f"  lamp: {{{rng.choice((lamp, led))}, in: lit}}")
    if rng.random() < 0.7:
        lines.append(f"  dim lamp: {{draws: {rng.choice((1, 4, 9))} mA, in: dim}}")
    if rng.random() < 0.3:
        lines.append(f"  oscillator: {{draws: {rng.choice((2, 6))} mA, while: starting}}")
    if rng.random() < 0.3:
        lines.append(f"  pull: {{resistor: {rng.choice(('47 kohm', '1 kohm', '330 ohm'))}, while: pad pressed}}")
    if writes and rng.random() < 0.3:
        lines.append(f"  write: {{draws: {rng.choice((2, 5))} mA, while: writing}}")
    if sleeps and rng.random() < 0.2 and watched_asleep:
        lines.append("  radio: {draws: 6 mA, in: stowed, while: asleep}")
    return lines


def script(seed: int, outages: bool) -> tuple[Edge, ...]:
    """Presses, most of them gestures, and with `outages` losses of contact far apart."""
    rng = Random(f"script {seed}")
    edges: list[Edge] = []
    at = rng.randint(200_000, 500_000)
    while at < END_US - 3_000_000:
        lasts = rng.choice((rng.randint(60_000, 300_000), rng.randint(900_000, 1_400_000)))
        edges += [Edge(at, "pad", True), Edge(at + lasts, "pad", False)]
        at += lasts + rng.randint(100_000, 1_500_000)
    at = rng.randint(300_000, 2_000_000)
    while outages and at < END_US - 1_000_000:
        gone = rng.choice((rng.randint(100, 3_000), rng.randint(3_000, 40_000), rng.randint(40_000, 200_000)))
        edges += [Edge(at, "", False), Edge(at + gone, "", True)]
        at += gone + rng.randint(1_500_000, 3_000_000)
    return tuple(sorted(edges))
