/* The clip light of specs/rain-cover-light.yaml: an interrupt on the pad, sleep wherever there is nothing to do.
 *
 * The handler only notes when the last edge was. The loop takes the level for the reading once there was no edge for
 * 20 ms, finds gestures in readings, and sleeps: lightly between two looks, deeply where the light is stowed.
 */
#include "rig.h"

#define PAD 2
#define LAMP 5

#define DEBOUNCE_MS 20
#define PRESS_MS 400
#define BETWEEN_MS 260
#define HELD_MS 1200
#define DOZE_MS 50
#define ARMED_MS 3000
#define GLOWING_MS (4ul * 60 * 60 * 1000)

enum state { STOWED, ARMED, GLOWING };
enum beam { LOW, HIGH, BLINK, BEAMS };

static volatile uint32_t edge_ms;
static volatile uint8_t woken, edges;

static enum state state;
static enum beam beam;
static uint32_t entered_ms, open_ms, quiet_ms, shown_ms;

static uint8_t reading, is_nobodys, taps;
static uint32_t down_ms, up_ms;

/* -- memory: two copies of four bytes, the newer whole one counts ---------------------------------------------- */

static uint8_t newest, sequence;

static uint8_t check_of(uint8_t number, uint8_t value) {
    uint8_t check = 0x5a;
    check = (uint8_t)((check << 3 | check >> 5) ^ number);
    check = (uint8_t)((check << 3 | check >> 5) ^ value);
    return check;
}

static int load(uint8_t copy, uint8_t *number, uint8_t *value) {
    uint8_t at = (uint8_t)(4 * copy), check;
    *number = rig_load(at);
    *value = rig_load(at + 1u);
    check = check_of(*number, *value);
    return rig_load(at + 2u) == check && rig_load(at + 3u) == (uint8_t)~check && *value >> 4 <= GLOWING
        && (*value & 15) < BEAMS;
}

static uint8_t kept_value(void) {
    enum state kept = state == ARMED ? STOWED : state;
    return (uint8_t)(kept << 4 | beam);
}

static uint8_t last_value;

static void save(void) {
    uint8_t value = kept_value(), at, check;
    if (value == last_value) return;
    newest = !newest;
    sequence++;
    at = (uint8_t)(4 * newest);
    check = check_of(sequence, value);
    rig_store(at, sequence);
    rig_store(at + 1u, value);
    rig_store(at + 2u, check);
    rig_store(at + 3u, (uint8_t)~check);
    last_value = value;
}

static void restore(void) {
    uint8_t number[2], value[2];
    int is_whole[2];
    for (uint8_t copy = 0; copy < 2; copy++) is_whole[copy] = load(copy, &number[copy], &value[copy]);
    last_value = STOWED << 4 | LOW;
    newest = 1;
    if (is_whole[0] || is_whole[1]) {
        newest = is_whole[1] && (!is_whole[0] || (int8_t)(number[1] - number[0]) > 0);
        sequence = number[newest];
        last_value = value[newest];
    }
    state = (enum state)(last_value >> 4);
    beam = (enum beam)(last_value & 15);
}

/* -- states ---------------------------------------------------------------------------------------------------- */

static void show(uint32_t now) {
    unsigned level = 0;
    if (state == ARMED) level = 10;
    if (state == GLOWING && beam == LOW) level = 60;
    if (state == GLOWING && beam == HIGH) level = 255;
    if (state == GLOWING && beam == BLINK) level = (now - shown_ms) % 1500 < 500 ? 150 : 0;
    rig_level(LAMP, level);
}

static void enter(enum state next, uint32_t now) {
    state = next;
    entered_ms = open_ms = shown_ms = now;
    is_nobodys = reading;
    taps = 0;
    show(now);
    save();
}

/* -- gestures: what the pad does, in readings ------------------------------------------------------------------ */

static void goes_down(uint32_t now) {
    reading = 1;
    down_ms = now;
}

static void goes_up(uint32_t now) {
    reading = 0;
    up_ms = open_ms = now;
    if (is_nobodys || now - down_ms > PRESS_MS) {
        is_nobodys = taps = 0;
        return;
    }
    if (state == ARMED && ++taps == 2) enter(GLOWING, now);
    else if (state == GLOWING) taps = taps ? 0 : 1;
}

static void stays_down(uint32_t now) {
    if (is_nobodys || now - down_ms < HELD_MS) return;
    if (state == STOWED) enter(ARMED, now);
    else if (state == GLOWING && taps == 1) enter(STOWED, now);
    is_nobodys = 1;
}

static void stays_up(uint32_t now) {
    if (taps && now - up_ms > BETWEEN_MS) {
        taps = 0;
        if (state == GLOWING) {
            beam = (enum beam)((beam + 1) % BEAMS);
            shown_ms = now;
            show(now);
            save();
        }
    }
    if (state == ARMED && now - open_ms >= ARMED_MS) enter(STOWED, now);
}

static void look(void) {
    uint32_t now;
    uint8_t level, seen;
    /* The level, the time and the last edge belong together: an edge between them begins the look anew. */
    do {
        seen = edges;
        level = !rig_read(PAD);
        now = rig_ms();
    } while (seen != edges);
    if (level != reading && now - edge_ms >= DEBOUNCE_MS) {
        if (level) goes_down(now);
        else goes_up(now);
    } else if (reading) {
        stays_down(now);
    } else {
        stays_up(now);
    }
    if (state == GLOWING && now - entered_ms >= GLOWING_MS) enter(STOWED, now);
    if (state == GLOWING && beam == BLINK) show(now);
    if (level || reading || taps) quiet_ms = now;
}

/* -- sleep ----------------------------------------------------------------------------------------------------- */

static void on_edge(void) {
    edge_ms = rig_ms();
    woken = 1;
    edges++;
}

static void on_tick(void) {}

static void doze(void) {
    woken = 0;
    if (!rig_read(PAD)) return;
    rig_interrupts(0);
    if (!woken) rig_sleep(RIG_DEEP);
    rig_interrupts(1);
    quiet_ms = rig_ms();
}

int main(void) {
    restore();
    reading = is_nobodys = !rig_read(PAD);
    entered_ms = open_ms = quiet_ms = shown_ms = rig_ms();
    show(entered_ms);
    rig_on_edge(PAD, RIG_CHANGE, on_edge);
    for (;;) {
        look();
        if (state == STOWED && rig_ms() - quiet_ms >= DOZE_MS) {
            doze();
        } else {
            /* Interrupts are off from the look at the pad to sleep: an edge between them keeps it awake. */
            rig_interrupts(0);
            rig_alarm(reading || taps || !rig_read(PAD) ? 1000 : state == GLOWING ? 100000 : 20000, on_tick);
            rig_sleep(RIG_LIGHT);
            rig_interrupts(1);
        }
    }
}
