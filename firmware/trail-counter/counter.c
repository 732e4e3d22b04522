/* The trail counter of specs/trail-counter.yaml, a sketch: it sleeps, counts footfalls in an interrupt, and fades its digit in
 * a loop that blocks. Whatever waits here waits in `rest`, which goes on looking at the key and at what was counted.
 */
#include "sketch.h"

#define KEY 2
#define MAT 3

#define DEBOUNCE_MS 20
#define PRESS_MS 500
#define BETWEEN_MS 400
#define HELD_MS 1000
#define DOZE_MS 50
#define SHOWING_MS 20000ul

static const uint8_t digits[3] = {5, 6, 9};

static volatile uint32_t edgeAt;
static volatile uint8_t woken, footfalls, edges;

static bool showing, reading, nobodys, wantsChange;
static uint8_t counted, shown = 3, taps;
static uint32_t downAt, upAt, shownAt, quietAt;

static void onKey(void) {
  edgeAt = millis();
  woken = 1;
  edges++;
}

static void onMat(void) {
  footfalls++;
  woken = 1;
}

/* Two copies of number, count and two checks; the newer whole one counts. */
static uint8_t newest = 1, number;

static uint8_t checkOf(uint8_t a, uint8_t b) { return (uint8_t)(0xc5 ^ (a << 3 | a >> 5) ^ (b << 6 | b >> 2)); }

static void restore(void) {
  uint8_t copy[2][4];
  bool whole[2];
  for (int i = 0; i < 2; i++) {
    for (int j = 0; j < 4; j++) copy[i][j] = rig_load((unsigned)(4 * i + j));
    whole[i] = copy[i][2] == checkOf(copy[i][0], copy[i][1]) && copy[i][3] == (uint8_t)~copy[i][2] && copy[i][1] < 3;
  }
  if (!whole[0] && !whole[1]) return;
  newest = whole[1] && (!whole[0] || (int8_t)(copy[1][0] - copy[0][0]) > 0);
  number = copy[newest][0];
  counted = copy[newest][1];
}

static void save(void) {
  uint8_t check;
  newest = !newest;
  number++;
  check = checkOf(number, counted);
  unsigned at = 4u * newest;
  rig_store(at, number);
  rig_store(at + 1, counted);
  rig_store(at + 2, check);
  rig_store(at + 3, (uint8_t)~check);
}

static void enter(bool shows) {
  showing = shows;
  shownAt = millis();
  nobodys = reading;
  taps = 0;
  wantsChange = true;
}

static void countFootfalls(void) {
  while (footfalls) {
    noInterrupts();
    footfalls--;
    interrupts();
    counted = (uint8_t)((counted + 1) % 3);
    wantsChange = true;
    save();
  }
}

static void fireHold(void) {
  if (taps && showing) {
    counted = 0;
    save();
    enter(false);
  } else if (!taps) {
    enter(!showing);
  }
  nobodys = true;
}

static void lookAtKey(void) {
  uint32_t now;
  uint8_t seen;
  bool level;
  /* The level, the time and the last edge belong together: an edge between them begins the look anew. */
  do {
    seen = edges;
    level = digitalRead(KEY) == LOW;
    now = millis();
  } while (seen != edges);
  if (level != reading && now - edgeAt >= DEBOUNCE_MS) {
    reading = level;
    if (level) {
      downAt = now;
    } else {
      taps = !nobodys && showing && !taps && now - downAt <= PRESS_MS;
      nobodys = false;
      upAt = now;
    }
  } else if (reading && !nobodys && now - downAt >= HELD_MS) {
    fireHold();
  } else if (!reading && taps && now - upAt > BETWEEN_MS) {
    taps = 0;
  }
  if (level || reading || taps) quietAt = now;
}

static void look(void) {
  countFootfalls();
  lookAtKey();
  if (showing && millis() - shownAt >= SHOWING_MS) enter(false);
}

static void rest(uint32_t ms) {
  for (uint32_t i = 0; i < ms; i++) {
    delay(1);
    look();
  }
}

/* The digit fades in; what changes meanwhile begins the next fade. */
static void fade(void) {
  wantsChange = false;
  if (shown < 3) analogWrite(digits[shown], 0);
  shown = showing ? counted : 3;
  for (int level = 5; shown < 3 && level <= 255 && !wantsChange; level += 25) {
    analogWrite(digits[shown], level);
    for (int i = 0; i < 8 && !wantsChange; i++) rest(1);
  }
}

static void doze(void) {
  noInterrupts();
  woken = 0;
  interrupts();
  if (digitalRead(KEY) == LOW || footfalls) return;
  set_sleep_mode(SLEEP_MODE_PWR_DOWN);
  noInterrupts();
  if (!woken) {
    sleep_enable();
    interrupts();
    sleep_cpu();
    sleep_disable();
  }
  interrupts();
  quietAt = millis();
}

void setup(void) {
  pinMode(KEY, INPUT_PULLUP);
  pinMode(MAT, INPUT);
  restore();
  reading = nobodys = digitalRead(KEY) == LOW;
  attachInterrupt(digitalPinToInterrupt(KEY), onKey, CHANGE);
  attachInterrupt(digitalPinToInterrupt(MAT), onMat, RISING);
  quietAt = millis();
}

void loop(void) {
  look();
  while (wantsChange) fade();
  if (showing || millis() - quietAt < DOZE_MS) rest(1);
  else doze();
}
