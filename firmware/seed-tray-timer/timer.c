/* The watering timer of specs/seed-tray-timer.yaml, polled: one step each millisecond, and nothing in it waits.
 *
 * A key counts as changed after more than 22 looks in a row with no edge between them, so 22 to 23 ms after its last edge; of
 * an edge too short for a look its interrupt leaves a mark. Memory is written a byte a step.
 */
#include "rig.h"

#define PUMP 8
#define DROP 9
#define LOOKS 22
#define PRESS_MS 500
#define HELD_MS 1000
#define JOIN_MS 120
#define MINUTE_MS 60000ul

enum { GO, PLUS, KEYS };
enum state { IDLE, WATERING };

static const uint8_t pins[KEYS] = {2, 3};

static struct key {
    uint8_t reading, count, is_nobodys, may_join, in_chord;
    uint16_t down_ms;
} keys[KEYS];

static enum state state;
static uint8_t left;
static uint32_t minute_ms;

/* -- memory: two copies of four bytes, the newer whole one counts ---------------------------------------------- */

static uint8_t newest = 1, number, kept, record[4], at = 4;

static uint8_t check_of(uint8_t a, uint8_t b) { return (uint8_t)(0x39 ^ (a << 2 | a >> 6) ^ (b << 5 | b >> 3)); }

static void restore(void) {
    uint8_t whole[2], copy[2][4];
    for (uint8_t i = 0; i < 2; i++) {
        for (uint8_t j = 0; j < 4; j++) copy[i][j] = rig_load(4u * i + j);
        whole[i] = copy[i][2] == check_of(copy[i][0], copy[i][1]) && copy[i][3] == (uint8_t)~copy[i][2] && copy[i][1] <= 2;
    }
    if (!whole[0] && !whole[1]) return;
    newest = whole[1] && (!whole[0] || (int8_t)(copy[1][0] - copy[0][0]) > 0);
    number = copy[newest][0];
    kept = left = copy[newest][1];
}

static void write_on(void) {
    if (at == 4) {
        if (left == kept) return;
        newest = !newest;
        record[0] = ++number;
        record[1] = kept = left;
        record[2] = check_of(number, left);
        record[3] = (uint8_t)~record[2];
        at = 0;
    }
    rig_store(4u * newest + at, record[at]);
    at++;
}

/* -- states ---------------------------------------------------------------------------------------------------- */

static void enter(enum state next) {
    state = next;
    minute_ms = 0;
    for (uint8_t i = 0; i < KEYS; i++) {
        keys[i].is_nobodys = keys[i].reading;
        keys[i].may_join = 0;
    }
    rig_write(PUMP, state == WATERING);
    rig_write(DROP, state == WATERING);
}

static void water(void) {
    if (state != WATERING || ++minute_ms < MINUTE_MS) return;
    minute_ms = 0;
    if (left >= 2) {
        left--;
    } else {
        left = 0;
        enter(IDLE);
    }
}

/* -- keys ------------------------------------------------------------------------------------------------------ */

static void goes_down(uint8_t i) {
    struct key *key = &keys[i], *other = &keys[!i];
    key->down_ms = 0;
    key->is_nobodys = key->in_chord;
    key->may_join = state == IDLE && !key->in_chord;
    if (other->may_join && key->may_join) {
        key->is_nobodys = other->is_nobodys = key->in_chord = other->in_chord = 1;
        key->may_join = other->may_join = 0;
        left = 0;
    }
}

static void goes_up(uint8_t i) {
    struct key *key = &keys[i];
    key->may_join = 0;
    if (!key->is_nobodys && key->down_ms <= PRESS_MS) {
        if (state == WATERING) enter(IDLE);
        else if (i == PLUS && left < 2) left++;
    }
    key->is_nobodys = 0;
    if (!keys[!i].reading) key->in_chord = keys[!i].in_chord = 0;
}

static void stays_down(uint8_t i) {
    struct key *key = &keys[i];
    if (key->down_ms < 60000) key->down_ms++;
    if (key->down_ms > JOIN_MS) key->may_join = 0;
    if (i == GO && !key->is_nobodys && key->down_ms >= HELD_MS) {
        key->is_nobodys = 1;
        if (state == IDLE && left >= 1) enter(WATERING);
    }
}

static volatile uint8_t had_edge[KEYS];

static void on_go(void) { had_edge[GO] = 1; }
static void on_plus(void) { had_edge[PLUS] = 1; }

static void look(uint8_t i) {
    struct key *key = &keys[i];
    if (had_edge[i]) had_edge[i] = key->count = 0;
    uint8_t level = !rig_read(pins[i]);
    if (level == key->reading) key->count = 0;
    else if (++key->count > LOOKS) {
        key->count = 0;
        key->reading = level;
        if (level) goes_down(i);
        else goes_up(i);
        return;
    }
    if (key->reading) stays_down(i);
}

void start(void) {
    rig_on_edge(pins[GO], RIG_CHANGE, on_go);
    rig_on_edge(pins[PLUS], RIG_CHANGE, on_plus);
    restore();
    for (uint8_t i = 0; i < KEYS; i++) keys[i].reading = !rig_read(pins[i]);
    enter(IDLE);
}

void step(void) {
    for (uint8_t i = 0; i < KEYS; i++) look(i);
    water();
    write_on();
}
