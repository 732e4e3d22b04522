/* The registers behind the register-style calls: what was written to them is done, what is read from them is filled in. */
#include "inside.h"
#include "registers.h"

__attribute__((weak)) uint32_t rig_cpu_hz = 1000000;

#define VECTOR(name) __attribute__((weak)) void name(void); void name(void) {}
VECTOR(INT0_vect)
VECTOR(INT1_vect)
VECTOR(PCINT0_vect)
VECTOR(PCINT1_vect)
VECTOR(PCINT2_vect)
VECTOR(TIMER0_COMPA_vect)
VECTOR(TIMER0_OVF_vect)
VECTOR(TIMER1_COMPA_vect)
VECTOR(TIMER1_OVF_vect)
VECTOR(WDT_vect)

static volatile uint8_t now8[RIG_REGISTERS];
static volatile uint16_t now16[RIG_WIDE];
static uint8_t was8[RIG_REGISTERS];
static uint16_t was16[RIG_WIDE];
static uint64_t counts_from[2];
static int is_begun, sleep_depth, may_sleep;

/* Stands in a flag register for "nothing was written"; no flag is there. */
enum { UNTOUCHED = 0x80 };

static int changed(int which) { return now8[which] != was8[which]; }

static const rig_handler groups[] = {PCINT0_vect, PCINT1_vect, PCINT2_vect};
/* Group 0 watches port B, 1 port C, 2 port D. */
static unsigned first_pin(int number) { return (unsigned)(8 * (number + 1)); }

static void look_at_ports(void) {
    for (int port = 0; port < 4; port++) {
        if (!changed(RIG_DDR + port) && !changed(RIG_PORT + port)) continue;
        for (int bit = 0; bit < 8; bit++) {
            int drives = now8[RIG_DDR + port] >> bit & 1, high = now8[RIG_PORT + port] >> bit & 1;
            if (drives) rig_drive((unsigned)(8 * port + bit), 1, high ? 255 : 0);
            else if (changed(RIG_DDR + port) || changed(RIG_PORT + port)) rig_release((unsigned)(8 * port + bit), high);
        }
    }
}

static void look_at_pins(void) {
    for (int number = 0; number < 3; number++) {
        if (now8[RIG_PCIFR] != was8[RIG_PCIFR] && now8[RIG_PCIFR] >> number & 1)
            for (unsigned bit = 0; bit < 8; bit++) rig_forget(first_pin(number) + bit);
        if (!changed(RIG_PCMSK + number) && !changed(RIG_PCICR)) continue;
        for (unsigned bit = 0; bit < 8; bit++) {
            int watches = (now8[RIG_PCICR] >> number & 1) && (now8[RIG_PCMSK + number] >> bit & 1);
            unsigned pin = first_pin(number) + bit;
            if (pin == rig_external[0] && now8[RIG_EIMSK] & _BV(INT0)) continue;
            if (pin == rig_external[1] && now8[RIG_EIMSK] & _BV(INT1)) continue;
            rig_group(pin, number + 1);
            rig_arm(pin, RIG_CHANGE, watches ? groups[number] : 0);
        }
    }
    for (int i = 0; i < 2; i++) {
        static const rig_handler vectors[] = {INT0_vect, INT1_vect};
        static const int edges[] = {RIG_LOW, RIG_CHANGE, RIG_FALLING, RIG_RISING};
        if (now8[RIG_EIFR] != was8[RIG_EIFR] && now8[RIG_EIFR] >> i & 1) rig_forget(rig_external[i]);
        if (!changed(RIG_EIMSK) && !changed(RIG_EICRA)) continue;
        if (!((now8[RIG_EIMSK] | was8[RIG_EIMSK]) >> i & 1)) continue;
        rig_group(rig_external[i], 0);
        rig_arm(rig_external[i], edges[now8[RIG_EICRA] >> 2 * i & 3], now8[RIG_EIMSK] >> i & 1 ? vectors[i] : 0);
    }
}

static uint64_t ticks_to_us(uint64_t ticks) { return ticks * 1000000 / rig_cpu_hz; }

static uint32_t prescaler(int timer) {
    static const uint16_t by[] = {0, 1, 8, 64, 256, 1024, 0, 0};
    return by[now8[RIG_TIMER + timer * RIG_TIMER_SIZE + RIG_TCCRB] & 7];
}

static uint32_t ticks_around(int timer) {
    int at = RIG_TIMER + timer * RIG_TIMER_SIZE;
    int resets = timer ? now8[at + RIG_TCCRB] & _BV(WGM12) : now8[at + RIG_TCCRA] & _BV(WGM01);
    return resets ? now16[2 * timer + 1] + 1u : timer ? 65536 : 256;
}

static void look_at_timer(int timer) {
    static const rig_handler vectors[] = {TIMER0_OVF_vect, TIMER0_COMPA_vect, TIMER1_OVF_vect, TIMER1_COMPA_vect};
    int at = RIG_TIMER + timer * RIG_TIMER_SIZE, is_set = 0;
    for (int i = 0; i < RIG_TIFR; i++) is_set |= changed(at + i);
    is_set |= now16[2 * timer] != was16[2 * timer] || now16[2 * timer + 1] != was16[2 * timer + 1];
    if (!is_set) return;
    if (now8[at + RIG_TCCRA] & 0xf0) rig_misuse("pins driven by a timer aren't covered: timer", (unsigned)timer);
    if (changed(at + RIG_TCCRB) || now16[2 * timer] != was16[2 * timer])
        counts_from[timer] = rig_now() - ticks_to_us((uint64_t)now16[2 * timer] * prescaler(timer));
    for (int i = 0; i < 2; i++) {
        uint64_t every = ticks_to_us((uint64_t)ticks_around(timer) * prescaler(timer));
        uint64_t first = every;
        int runs = every && now8[at + RIG_TIMSK] >> i & 1;
        if (every) first = every - (rig_now() - counts_from[timer]) % every;
        rig_timer(RIG_FREE + 2 * timer + i, first, every, 0, runs ? vectors[2 * timer + i] : 0);
    }
}

static void look_at_watchdog(void) {
    static const uint16_t ms[] = {16, 32, 64, 125, 250, 500, 1000, 2000, 4000, 8000};
    int by = (now8[RIG_WDTCSR] & 7) | (now8[RIG_WDTCSR] >> WDP3 & 1) << 3;
    uint64_t us = 1000ull * ms[by > 9 ? 9 : by];
    if (!changed(RIG_WDTCSR)) return;
    rig_timer(RIG_ROUSE, us, us, 1, now8[RIG_WDTCSR] & _BV(WDIE) ? WDT_vect : 0);
}

static void look(void) {
    int is_changed = 0;
    for (int i = 0; i < RIG_REGISTERS; i++) is_changed |= changed(i);
    for (int i = 0; i < RIG_WIDE; i++) is_changed |= now16[i] != was16[i];
    if (!is_changed) return;
    look_at_ports();
    look_at_pins();
    look_at_timer(0);
    look_at_timer(1);
    look_at_watchdog();
    for (int i = 0; i < RIG_REGISTERS; i++) was8[i] = now8[i];
    for (int i = 0; i < RIG_WIDE; i++) was16[i] = now16[i];
}

static void begin(void) {
    if (is_begun) return;
    is_begun = 1;
    rig_look = look;
    now8[RIG_MCUSR] = was8[RIG_MCUSR] = rig_cause() == RIG_WATCHDOG ? _BV(WDRF) : _BV(PORF);
}

static void fill_in(void) {
    uint8_t pc = UNTOUCHED, ext = UNTOUCHED;
    for (int port = 0; port < 4; port++) {
        uint8_t level = 0;
        for (unsigned bit = 0; bit < 8; bit++) level |= (uint8_t)(rig_level_of((unsigned)(8 * port) + bit) << bit);
        now8[RIG_PIN + port] = was8[RIG_PIN + port] = level;
    }
    for (unsigned bit = 0; bit < 24; bit++)
        if (rig_is_pending(first_pin(0) + bit)) pc |= (uint8_t)_BV(bit / 8);
    for (int i = 0; i < 2; i++)
        if (rig_is_pending(rig_external[i])) ext |= (uint8_t)_BV(i);
    now8[RIG_PCIFR] = was8[RIG_PCIFR] = pc;
    now8[RIG_EIFR] = was8[RIG_EIFR] = ext;
    for (int timer = 0; timer < 2; timer++) {
        uint64_t ticks = prescaler(timer) ? (rig_now() - counts_from[timer]) * rig_cpu_hz / 1000000 / prescaler(timer) : 0;
        if (prescaler(timer)) now16[2 * timer] = was16[2 * timer] = (uint16_t)(ticks % ticks_around(timer));
    }
}

volatile uint8_t *rig_register(int which) {
    begin();
    rig_called();
    fill_in();
    rig_look_soon();
    return &now8[which];
}

volatile uint16_t *rig_wide(int which) {
    rig_register(0);
    return &now16[which];
}

void rig_sleep_mode(int mode) { sleep_depth = mode == SLEEP_MODE_IDLE ? RIG_LIGHT : RIG_DEEP; }
void rig_sleep_enable(int enable) { may_sleep = enable; }
void rig_sleep_now(void) {
    if (may_sleep) rig_sleep_only_if_on(sleep_depth);
    else rig_called();
}

void rig_watch_by(int by) {
    static const uint16_t ms[] = {16, 32, 64, 125, 250, 500, 1000, 2000, 4000, 8000};
    rig_watch(ms[by < 0 || by > 9 ? 9 : by]);
}

void rig_wait_us(double us) {
    if (us > 0) rig_delay(us < 1 ? 1 : us > 4e9 ? 4000000000u : (uint32_t)us);
}

#ifdef __ELF__
extern const char __start_rig_bytes[] __attribute__((weak)), __stop_rig_bytes[] __attribute__((weak));
unsigned rig_byte(const void *at) {
    uintptr_t place = (uintptr_t)at, first = (uintptr_t)__start_rig_bytes;
    return (unsigned)(first && place >= first && place < (uintptr_t)__stop_rig_bytes ? place - first : place);
}
#else
unsigned rig_byte(const void *at) { return (unsigned)(uintptr_t)at; }
#endif
