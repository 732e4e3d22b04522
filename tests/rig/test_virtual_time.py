"""Time, interrupts, sleep, power and memory on the rig, to the microsecond."""

from __future__ import annotations

import shutil
from itertools import pairwise
from pathlib import Path

import pytest

from nudgeproof.rig.run import run
from nudgeproof.rig.settings import read_settings
from tests.rig.devices import Act, act, build_shipped, rows, settings_of, small, turns

needs_cxx = pytest.mark.skipif(shutil.which("c++") is None, reason="there is no C++ compiler")
HANDLER = "static volatile int flag; static void on(void) { flag = 1; }"


def test_a_delay_takes_exactly_its_time(tmp_path: Path) -> None:
    code = "int main(void) { for (;;) { rig_write(5, 1); rig_delay(1000); rig_write(5, 0); rig_delay(250); } }"
    lit = [at for at, _ in turns(small(code, tmp_path, until_ms=10), "lamp")]
    ons = [b - a for a, b in zip(lit[::2], lit[1::2], strict=False)]
    # A call takes 1 us and begins a block that takes another, at most.
    assert all(1000 < on <= 1002 for on in ons)
    assert len(ons) >= 7


def test_steps_come_at_fixed_moments(tmp_path: Path) -> None:
    code = "static int n; void start(void) {} void step(void) { rig_delay(300); rig_write(5, n = !n); }"
    lit = [at for at, _ in turns(small(code, tmp_path, until_ms=20, entry="step every 2 ms"), "lamp")]
    assert {b - a for a, b in pairwise(lit)} == {2000}


def test_what_is_measured_is_what_passed(tmp_path: Path) -> None:
    code = (
        "int main(void) { uint32_t a = rig_us(); rig_delay(12345); a = rig_us() - a; if (a == 12346)"
        " rig_write(5, 1); for (;;) rig_delay(99); }"
    )
    assert turns(small(code, tmp_path, use_blocks=False), "lamp")


def test_an_interrupt_frees_a_loop_that_only_waits(tmp_path: Path) -> None:
    code = (
        HANDLER
        + "int main(void) { rig_on_edge(2, RIG_FALLING, on); while (!flag) {} rig_write(5, 1); for (;;) rig_delay(99); }"
    )
    ((at, _),) = turns(small(code, tmp_path, [(300, 50, "key")]), "lamp")
    assert 300_000 < at <= 300_010


def test_without_blocks_an_interrupt_comes_at_the_next_call(tmp_path: Path) -> None:
    code = (
        HANDLER + "int main(void) { rig_on_edge(2, RIG_FALLING, on); while (!flag) rig_read(3);"
        " rig_write(5, 1); for (;;) rig_delay(99); }"
    )
    ((at, _),) = turns(small(code, tmp_path, [(300, 50, "key")], use_blocks=False), "lamp")
    assert 300_000 < at <= 300_010


def test_an_interrupt_comes_inside_a_delay_which_goes_on(tmp_path: Path) -> None:
    code = (
        "static void on(void) { rig_write(5, 1); }"
        "int main(void) { rig_on_edge(2, RIG_FALLING, on); rig_delay(500000); rig_write(5, 0); for (;;)"
        " rig_delay(99); }"
    )
    (on, _), (off, _) = turns(small(code, tmp_path, [(300, 50, "key")]), "lamp")
    assert 300_000 < on <= 300_005
    assert 500_000 < off <= 500_010


def test_interrupts_that_are_off_wait(tmp_path: Path) -> None:
    code = (
        "static void on(void) { rig_write(5, 1); }"
        "int main(void) { rig_on_edge(2, RIG_FALLING, on); rig_interrupts(0); rig_delay(500000); rig_interrupts(1);"
        " for (;;) rig_delay(99); }"
    )
    ((at, _),) = turns(small(code, tmp_path, [(300, 50, "key")]), "lamp")
    assert 500_000 < at <= 500_010


@pytest.mark.parametrize(("depth", "counted"), [("RIG_LIGHT", 702), ("RIG_DEEP", 0)])
def test_the_clock_stands_still_only_in_deep_sleep(depth: str, counted: int, tmp_path: Path) -> None:
    code = (
        f"{HANDLER} int main(void) {{ rig_on_edge(2, RIG_FALLING, on); rig_delay(1000); uint32_t a = rig_ms();"
        f" rig_sleep({depth}); a = rig_ms() - a; rig_write(5, a == {counted}); for (;;) rig_delay(99); }}"
    )
    result = small(code, tmp_path, [(701, 50, "key")], more="wakes in: 2 ms")
    ((at, _),) = turns(result, "lamp")
    assert 703_000 < at <= 703_020


def test_an_alarm_doesnt_run_in_deep_sleep_and_a_rouse_does(tmp_path: Path) -> None:
    code = (
        "static void alarm(void) { rig_write(5, 1); } static void rouse(void) {}"
        "int main(void) { rig_alarm(100000, alarm); rig_rouse(250, rouse); rig_sleep(RIG_DEEP);"
        " rig_sleep(RIG_LIGHT); for (;;) rig_delay(99); }"
    )
    ((at, _),) = turns(small(code, tmp_path), "lamp")
    assert 350_000 < at <= 350_010


def test_edge_just_before_sleep_keeps_it_awake(tmp_path: Path) -> None:
    code = (
        f"{HANDLER} int main(void) {{ rig_on_edge(2, RIG_FALLING, on); rig_interrupts(0); rig_delay(500000);"
        " rig_sleep(RIG_DEEP); rig_interrupts(1); rig_write(5, flag); for (;;) rig_delay(99); }"
    )
    ((at, _),) = turns(small(code, tmp_path, [(300, 50, "key")], more="wakes in: 2 ms"), "lamp")
    assert 500_000 < at <= 500_010


def test_the_clock_comes_round_where_its_width_says(tmp_path: Path) -> None:
    code = (
        "int main(void) { uint32_t a = rig_ms(); while (rig_ms() >= a) rig_delay(100); rig_write(5, 1);"
        " for (;;) rig_delay(99); }"
    )
    for bits, width in ((16, 2**16), (32, 2**32)):
        result = small(code, tmp_path, until_ms=900, more=f"clock: {{bits: {bits}, starts at: {width - 400} ms}}")
        ((at, _),) = turns(result, "lamp")
        assert 400_000 <= at <= 400_200


COUNTS = (
    "static int starts; int main(void) { starts++; rig_write(5, 1); for (;;) { rig_delay(1000); if"
    " (starts > 1) rig_write(5, 0); } }"
)


def test_every_power_up_finds_clean_ram(tmp_path: Path) -> None:
    cuts: list[Act] = [(100 + 100 * i, 20, "supply") for i in range(5)]
    result = small(COUNTS, tmp_path, cuts, more="power: {hold-up: 5 ms, starts in: 10 ms}")
    on_off = [(at // 1000, level) for at, level in turns(result, "lamp")]
    assert on_off == [(10, 1), *((at + t, n) for at in range(100, 600, 100) for t, n in ((5, 0), (30, 1)))]


def test_a_short_loss_goes_unnoticed(tmp_path: Path) -> None:
    result = small(COUNTS, tmp_path, [(100, 5, "supply")], more="power: {hold-up: 5 ms}")
    assert len(turns(result, "lamp")) in (1, 3)
    assert len(turns(small(COUNTS, tmp_path, [(100, 4.9, "supply")], more="power: {hold-up: 5 ms}"), "lamp")) == 1
    assert len(turns(small(COUNTS, tmp_path, [(100, 5.1, "supply")], more="power: {hold-up: 5 ms}"), "lamp")) == 3


STORES = "int main(void) { rig_delay(1000); rig_store(1, 7); rig_finish(); rig_store(2, 9); for (;;) rig_delay(99); }"


def test_only_the_byte_that_is_being_written_is_torn(tmp_path: Path) -> None:
    whole = small(STORES, tmp_path, until_ms=100).memory
    assert whole == bytes([255, 7, 9, 255])
    torn = small(STORES, tmp_path, [(2.5, 500, "supply")], until_ms=100).memory
    assert torn[:2] == bytes([255, 7])
    assert torn[2] not in (9, 255)
    untouched = small(STORES, tmp_path, [(0.9, 500, "supply")], until_ms=100, memory=bytes([1, 2, 3, 4])).memory
    assert untouched == bytes([1, 2, 3, 4])


def test_bytes_live_on_through_power_cuts(tmp_path: Path) -> None:
    code = (
        "int main(void) { uint8_t n = rig_load(0); rig_store(0, n + 1); rig_finish(); rig_write(5, n == 2);"
        " for (;;) rig_delay(99); }"
    )
    result = small(code, tmp_path, [(100, 20, "supply"), (200, 20, "supply")], memory=bytes(4))
    assert result.memory[0] == 3
    assert turns(result, "lamp")[0][0] > 220_000


def test_the_watchdog_resets_what_doesnt_feed_it(tmp_path: Path) -> None:
    code = (
        "int main(void) { rig_write(5, rig_cause() == RIG_WATCHDOG); rig_watch(100); for (int i = 0; i"
        " < 5; i++) { rig_delay(50000); rig_feed(); }"
        " for (;;) {} }"
    )
    result = small(code, tmp_path, until_ms=600, more="power: {starts in: 10 ms}")
    # Started at 10 ms, fed until 260 ms, reset at 360 ms.
    assert [at // 1000 for at, _ in turns(result, "lamp")][:1] == [370]


def test_a_latch_holds_the_power_and_lets_go(tmp_path: Path) -> None:
    code = (
        "int main(void) { rig_write(7, 1); rig_write(5, 1); rig_delay(300000); rig_write(7, 0); for"
        " (;;) rig_delay(99); }"
    )
    power = "power: {starts in: 40 ms, latch: 7, closed by: [key], lets go: 2 ms}"
    (on, _), (off, _) = turns(small(code, tmp_path, [(100, 60, "key")], more=power), "lamp")
    assert 140_000 < on <= 140_010
    assert 442_000 < off <= 442_020
    assert not turns(small(code, tmp_path, [(100, 39, "key")], more=power), "lamp")


@needs_cxx
def test_a_sketch_in_either_language(tmp_path: Path) -> None:
    code = (
        "void setup() { pinMode(2, INPUT_PULLUP); } void loop() { digitalWrite(5, digitalRead(2) == LOW); delay(1); }"
    )
    for source in ("a.c", "a.cpp", "a.ino"):
        result = small(code, tmp_path, [(300, 50, "key")], entry="sketch", source=source)
        assert [round(at / 1000) for at, _ in turns(result, "lamp")] in ([300, 350], [301, 351])


@needs_cxx
def test_a_sketch_stores_bytes(tmp_path: Path) -> None:
    code = (
        "struct s { byte a; byte b; }; void setup() { s x = {5, 6}; EEPROM.put(1, x); EEPROM.update(0,"
        " 4); } void loop() { delay(1); }"
    )
    assert small(code, tmp_path, entry="sketch", source="a.cpp").memory == bytes([4, 5, 6, 255])


REGISTERS = """
#include "board/pins.h"
static volatile uint8_t pressed, ticks;
ISR(INT0_vect) { pressed = 1; }
ISR(PCINT2_vect) { pressed = 2; }
ISR(TIMER1_COMPA_vect) { ticks++; }
ISR(WDT_vect) { ticks += 100; }
int main(void) {
    uint8_t EEMEM kept[2];
    DDRB = _BV(PB0);
    PORTD = _BV(PD2);
    BODY
}
""".replace("    uint8_t EEMEM kept[2];\n", "")


def registers(body: str, folder: Path, acts: list[Act] | None = None, until_ms: float = 1000) -> list[tuple[int, int]]:
    code = REGISTERS.replace("BODY", body)
    more = "headers: [board/pins.h]\nexternal interrupts: [PD2]\nflags: [-DF_CPU=8000000UL]"
    (folder / "a.c").write_text(code, encoding="utf-8")
    text = f"rig: 1\nsources: [a.c]\nentry: main\nbuttons: {{key: {{pin: PD2}}}}\noutputs: {{lamp: {{pin: PB0}}}}\n{more}\n"
    from nudgeproof.rig.build import build

    settings = read_settings(text, "rig.yaml")
    result = run(build(settings, folder), settings, act(acts or [], until_ms))
    assert not result.finding, result
    return turns(result, "lamp")


def test_registers_an_external_interrupt_wakes(tmp_path: Path) -> None:
    body = """EICRA = _BV(ISC01); EIMSK = _BV(INT0); set_sleep_mode(SLEEP_MODE_PWR_DOWN); sei();
    while (!pressed) sleep_mode();
    PORTB |= _BV(PB0); for (;;) _delay_ms(1);"""
    ((at, _),) = registers(body, tmp_path, [(300, 50, "key")])
    assert 300_000 < at <= 300_015


def test_registers_a_flag_is_cleared_by_writing_it(tmp_path: Path) -> None:
    body = """EICRA = _BV(ISC01); EIMSK = _BV(INT0); _delay_ms(500); CLEAR sei(); _delay_ms(1);
    if (pressed) PORTB = _BV(PB0); for (;;) _delay_ms(1);"""
    assert registers(body.replace("CLEAR", ""), tmp_path, [(300, 50, "key")])
    assert not registers(body.replace("CLEAR", "EIFR = _BV(INTF0);"), tmp_path, [(300, 50, "key")])


def test_registers_a_pin_change_and_a_level(tmp_path: Path) -> None:
    body = """PCMSK2 = _BV(PD2); PCICR = _BV(PCIE2); sei(); while (!pressed) {}
    if (bit_is_clear(PIND, PD2)) PORTB = _BV(PB0); for (;;) _delay_ms(1);"""
    ((at, _),) = registers(body, tmp_path, [(300, 50, "key")])
    assert 300_000 < at <= 300_015


def test_registers_a_timer_counts(tmp_path: Path) -> None:
    body = """TCCR1B = _BV(WGM12) | _BV(CS11); OCR1A = 9999; TIMSK1 = _BV(OCIE1A); sei();
    while (ticks < 20) {} PORTB = _BV(PB0); for (;;) _delay_ms(1);"""
    ((at, _),) = registers(body, tmp_path)
    assert 200_000 <= at <= 200_030


def test_registers_the_watchdog_wakes_from_deep_sleep(tmp_path: Path) -> None:
    body = """WDTCSR = _BV(WDIE) | _BV(WDP2) | _BV(WDP0); set_sleep_mode(SLEEP_MODE_PWR_DOWN); sei(); sleep_mode();
    PORTB = ticks == 100 ? _BV(PB0) : 0; for (;;) _delay_ms(1);"""
    ((at, _),) = registers(body, tmp_path)
    assert 500_000 <= at <= 500_030


def test_registers_interrupts_are_off_at_a_start(tmp_path: Path) -> None:
    body = "EICRA = _BV(ISC01); EIMSK = _BV(INT0); for (;;) if (pressed) PORTB = _BV(PB0);"
    assert not registers(body, tmp_path, [(300, 50, "key")], until_ms=400)


def test_the_same_run_gives_the_same_bytes(tmp_path: Path) -> None:
    program, settings = build_shipped("rain-cover-light", tmp_path), settings_of("rain-cover-light")
    stimulus = act([(500, 1500, "pad"), (2500, 100, "pad"), (2700, 100, "pad"), (2822, 9, "supply")])
    first = run(program, settings, stimulus)
    assert run(build_shipped("rain-cover-light", tmp_path), settings, stimulus) == first
    times = [row[0] for row in rows(first)]
    assert times == sorted(set(times))
    assert times[0] == 0
    assert times[-1] == stimulus.end_us


def test_a_torn_byte_stays_torn_at_the_next_start(tmp_path: Path) -> None:
    code = (
        "int main(void) { rig_delay(1000); if (rig_load(0) == 255) { rig_store(0, 1); rig_finish(); rig_store(2, 9); }"
        " for (;;) rig_delay(99); }"
    )
    memory = small(code, tmp_path, [(2.5, 10, "supply")], until_ms=100).memory
    assert memory[0] == 1
    assert memory[2] not in (9, 255)


def test_interrupts_that_come_on_just_before_sleep_keep_it_awake(tmp_path: Path) -> None:
    code = (
        f"{HANDLER} int main(void) {{ rig_on_edge(2, RIG_FALLING, on); rig_interrupts(0); rig_delay(500000);"
        " rig_interrupts(1); rig_sleep(RIG_DEEP); rig_write(5, flag); for (;;) rig_delay(99); }"
    )
    ((at, _),) = turns(small(code, tmp_path, [(300, 400, "key")]), "lamp")
    assert 500_000 < at <= 500_010


def test_an_edge_that_nobody_waits_for_any_more_is_forgotten(tmp_path: Path) -> None:
    code = (
        f"{HANDLER} int main(void) {{ rig_on_edge(2, RIG_FALLING, on); rig_interrupts(0); rig_delay(500000);"
        " rig_on_edge(2, 0, 0); rig_on_edge(2, RIG_FALLING, on); rig_interrupts(1); rig_delay(100); rig_write(5, !flag);"
        " for (;;) rig_delay(99); }"
    )
    assert turns(small(code, tmp_path, [(300, 50, "key")]), "lamp")


def test_a_fed_watchdog_and_a_periodic_rouse_keep_their_rhythm(tmp_path: Path) -> None:
    code = (
        "static int n; static void rouse(void) { rig_write(5, n = !n); rig_delay(3000); rig_feed(); }"
        "int main(void) { rig_watch(150); rig_rouse(100, rouse); for (;;) rig_sleep(RIG_DEEP); }"
    )
    ticks = [at for at, _ in turns(small(code, tmp_path), "lamp")]
    assert len(ticks) == 9
    assert all(abs(b - a - 100_000) <= 5 for a, b in pairwise(ticks))


def test_an_alarm_waits_while_the_clock_stands_still(tmp_path: Path) -> None:
    code = (
        f"{HANDLER} static void alarm(void) {{ rig_write(5, 1); }}"
        " int main(void) { rig_on_edge(2, RIG_FALLING, on); rig_alarm(200000, alarm); rig_sleep(RIG_DEEP);"
        " rig_sleep(RIG_LIGHT);"
        " for (;;) rig_delay(99); }"
    )
    ((at, _),) = turns(small(code, tmp_path, [(300, 50, "key")]), "lamp")
    assert 500_000 < at <= 500_020


def test_only_the_edge_that_was_asked_for_interrupts(tmp_path: Path) -> None:
    code = "static void on(void) { rig_write(5, 1); }"
    code += " int main(void) { rig_on_edge(2, RIG_RISING, on); for (;;) rig_delay(99); }"
    ((at, _),) = turns(small(code, tmp_path, [(300, 50, "key")]), "lamp")
    assert 350_000 < at <= 350_010


def test_what_happens_during_the_hold_up_doesnt_begin_it_anew(tmp_path: Path) -> None:
    acts: list[Act] = [(100, 50, "supply"), (103, 10, "key")]
    result = small(COUNTS, tmp_path, acts, more="power: {hold-up: 5 ms, starts in: 10 ms}")
    assert turns(result, "lamp")[1] == (105_000, 0)


def test_an_input_that_nothing_drives_reads_its_pull(tmp_path: Path) -> None:
    code = "int main(void) { int a = rig_read(9); rig_pull(9, 1); rig_write(5, !a && rig_read(9)); for (;;) rig_delay(99); }"
    assert turns(small(code, tmp_path, until_ms=10), "lamp")
