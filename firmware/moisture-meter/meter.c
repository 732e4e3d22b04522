/* The moisture meter of specs/moisture-meter.yaml, register-style: a tick of one millisecond, an interrupt on the key.
 *
 * The first edge of the key counts, and the handler is deaf for 40 ms after it. The firmware holds its own power by the latch
 * and lets go of it to switch itself off; while the key is down it runs on.
 */
#define F_CPU 1000000UL
#include "registers.h"

#define KEY PD2
#define LOW_CELL PD4
#define FINE_CELL PD5
#define LATCH _BV(PB0)
#define DASH _BV(PB1)
#define PERCENT _BV(PB2)
#define GRADE _BV(PB3)
#define WARNING _BV(PB4)

#define LOCKOUT_MS 40
#define PRESS_MS 450
#define HELD_MS 500
#define STARTING_MS 700
#define MEASURING_MS 30000u
#define CELL_MS 900

enum state { OFF, STARTING, MEASURING };

static volatile uint32_t ticks;
static volatile uint8_t reading, is_deaf, went_down, went_up;
static volatile uint32_t deaf_from, down_at, up_at;

static enum state state;
static uint32_t since, cell_at;
static uint8_t unit, warning, is_low, is_nobodys;

ISR(TIMER0_COMPA_vect) { ticks++; }

static void read_key(void) {
    uint8_t level = bit_is_clear(PIND, KEY);
    if (is_deaf || level == reading) return;
    reading = level;
    is_deaf = 1;
    deaf_from = ticks;
    if (level) {
        went_down = 1;
        down_at = ticks;
    } else {
        went_up = 1;
        up_at = ticks;
    }
}

ISR(INT0_vect) { read_key(); }

static uint32_t now(void) {
    uint32_t copy;
    cli();
    copy = ticks;
    sei();
    return copy;
}

/* -- memory: two copies of number, unit and two checks ------------------------------------------------------- */

static uint8_t EEMEM copies[2][4];
static uint8_t newest = 1, number;

static uint8_t check_of(uint8_t a, uint8_t b) { return (uint8_t)(0xa7 ^ (a << 3 | a >> 5) ^ (b << 5 | b >> 3)); }

static int is_whole(const uint8_t *copy) {
    uint8_t check = check_of(copy[0], copy[1]);
    return copy[2] == check && copy[3] == (uint8_t)~check && copy[1] <= 1;
}

static void restore(void) {
    uint8_t copy[2][4];
    eeprom_read_block(copy[0], copies[0], 4);
    eeprom_read_block(copy[1], copies[1], 4);
    if (!is_whole(copy[0]) && !is_whole(copy[1])) return;
    newest = is_whole(copy[1]) && (!is_whole(copy[0]) || (int8_t)(copy[1][0] - copy[0][0]) > 0);
    number = copy[newest][0];
    unit = copy[newest][1];
}

static void save(void) {
    uint8_t copy[4] = {++number, unit, check_of(number, unit), (uint8_t)~check_of(number, unit)};
    newest = !newest;
    eeprom_write_block(copy, copies[newest], 4);
}

/* -- states -------------------------------------------------------------------------------------------------- */

static void show(void) {
    uint8_t shown = state == OFF ? 0 : LATCH;
    if (state == STARTING) shown |= DASH;
    if (state == MEASURING) shown |= (uint8_t)(unit ? GRADE : PERCENT);
    if (state == MEASURING && warning) shown |= WARNING;
    PORTB = shown;
}

static void enter(enum state next) {
    state = next;
    since = now();
    is_nobodys = 1;
    show();
}

static void tap(void) {
    if (state != MEASURING) return;
    unit = !unit;
    since = now();
    show();
    save();
}

static void look_at_key(void) {
    cli();
    if (is_deaf && ticks - deaf_from >= LOCKOUT_MS) {
        is_deaf = 0;
        read_key();
    }
    sei();
    if (went_down) {
        went_down = 0;
        is_nobodys = 0;
    }
    if (went_up) {
        went_up = 0;
        if (!is_nobodys && up_at - down_at <= PRESS_MS) tap();
        is_nobodys = 1;
    }
    if (reading && !is_nobodys && now() - down_at >= HELD_MS) enter(state == MEASURING ? OFF : MEASURING);
}

/* A low cell is seen once, and then a fine one. */
static void look_at_cell(void) {
    if (now() - cell_at < CELL_MS) return;
    cell_at = now();
    if (!(is_low ? bit_is_set(PIND, FINE_CELL) : bit_is_set(PIND, LOW_CELL))) return;
    is_low = !is_low;
    if (state == MEASURING) warning = is_low;
    show();
}

int main(void) {
    PORTB = LATCH;
    DDRB = LATCH | DASH | PERCENT | GRADE | WARNING;
    restore();
    TCCR0A = _BV(WGM01);
    OCR0A = 124;
    TIMSK0 = _BV(OCIE0A);
    TCCR0B = _BV(CS01);
    EICRA = _BV(ISC00);
    EIMSK = _BV(INT0);
    enter(STARTING);
    cli();
    read_key();
    sei();
    set_sleep_mode(SLEEP_MODE_IDLE);
    for (;;) {
        look_at_key();
        look_at_cell();
        if (state == STARTING && now() - since >= STARTING_MS) enter(OFF);
        if (state == MEASURING && now() - since >= MEASURING_MS) enter(OFF);
        sleep_mode();
    }
}
