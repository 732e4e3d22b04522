/* Plays stimuli on a real device: closes its button, cuts its cell, at the times of story.h, again and again.
 *
 *     nudgeproof stimulus stimulus.csv --table firmware/player/story.h
 *
 * For any spare board with a sketch-style environment; no library. docs/on-the-board.md has the wiring and what to mind.
 * A line that is HIGH closes its button, or connects the cell. LOW is the safe state, and what the resistors of the wiring
 * make of pins that aren't driven yet: all buttons open, the cell away.
 */
#include <stdint.h>

/* One pin for each line, in the order that story.h tells. */
static const uint8_t PINS[] = {3, 2};
/* HIGH while a stimulus runs: the analyser may record it. */
static const uint8_t SYNC = 4;
/* Time to start the analyser. */
static const uint32_t FIRST_MS = 5000;

/* The lines are set to the bits of `levels`, the first to the lowest; the highest is SYNC. Then nothing for `wait_us`. */
struct Row {
  uint32_t wait_us;
  uint8_t levels;
};

/* An 8-bit board has more room for tables beside its program than in RAM. */
#ifdef __AVR__
#include <avr/pgmspace.h>
#define STORY_PLACE PROGMEM
#define WAIT_OF(row) pgm_read_dword(&(row).wait_us)
#define LEVELS_OF(row) pgm_read_byte(&(row).levels)
#else
#define STORY_PLACE
#define WAIT_OF(row) ((row).wait_us)
#define LEVELS_OF(row) ((row).levels)
#endif

#include "story.h"

static_assert(sizeof PINS == STORY_LINES, "PINS must name a pin for each line of story.h");

static const uint32_t ROWS = sizeof STORY / sizeof STORY[0];

static void waitUntilDue(void);
static void put(uint8_t levels);

static uint32_t rounds, due;
static uint8_t before;

void setup() {
  /* LOW first, and only then an output: no pin is ever HIGH by mistake. */
  for (uint8_t i = 0; i < STORY_LINES; i++) {
    digitalWrite(PINS[i], LOW);
    pinMode(PINS[i], OUTPUT);
  }
  digitalWrite(SYNC, LOW);
  pinMode(SYNC, OUTPUT);
  delay(FIRST_MS);
}

void loop() {
  if (rounds == STORY_ROUNDS) {
    delay(1000);
    return;
  }
  /* Each row is due after the one before was due, not after it was done: being late once makes nothing later. */
  if (rounds++ == 0) due = micros();
  for (uint32_t i = 0; i < ROWS; i++) {
    put(LEVELS_OF(STORY[i]));
    due += WAIT_OF(STORY[i]);
    waitUntilDue();
  }
}

static void put(uint8_t levels) {
  uint8_t changed = levels ^ before;
  before = levels;
  if (changed & 0x80) digitalWrite(SYNC, levels & 0x80 ? HIGH : LOW);
  for (uint8_t i = 0; i < STORY_LINES; i++)
    if (changed >> i & 1) digitalWrite(PINS[i], levels >> i & 1 ? HIGH : LOW);
}

/* micros() comes round every 72 minutes; differences don't mind, and no wait is longer than 18. */
static void waitUntilDue(void) {
  int32_t left = (int32_t)(due - micros());
  while (left > 20000) {
    delay((uint32_t)left / 1000 - 10);
    left = (int32_t)(due - micros());
  }
  while ((int32_t)(due - micros()) > 0) {
  }
}
