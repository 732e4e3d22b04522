/* Sketch-style calls: setup, loop and what they usually call. Thin: each is one call of rig.h. */
#ifndef RIG_SKETCH_H
#define RIG_SKETCH_H

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include "registers.h"

typedef bool boolean;
typedef uint8_t byte;
typedef unsigned int word;

enum { LOW = 0, HIGH = 1, INPUT = 0, OUTPUT = 1, INPUT_PULLUP = 2, FALLING = 2, RISING = 3, CHANGE = 4 };

#ifdef __cplusplus
extern "C" {
#endif
void setup(void);
void loop(void);
#ifdef __cplusplus
}
#endif

static inline uint32_t millis(void) { return rig_ms(); }
static inline uint32_t micros(void) { return rig_us(); }
static inline void delay(uint32_t ms) { while (ms > 1000000) { rig_delay(1000000000u); ms -= 1000000; } rig_delay(ms * 1000u); }
static inline void delayMicroseconds(uint32_t us) { rig_delay(us); }
static inline void pinMode(int pin, int mode) { rig_pull((unsigned)pin, mode == INPUT_PULLUP); }
static inline int digitalRead(int pin) { return rig_read((unsigned)pin); }
static inline void digitalWrite(int pin, int level) { rig_write((unsigned)pin, level != 0); }
static inline void analogWrite(int pin, int level) { rig_level((unsigned)pin, (unsigned)level); }
static inline int digitalPinToInterrupt(int pin) { return pin; }
static inline void attachInterrupt(int pin, rig_handler handler, int mode) {
    rig_clear((unsigned)pin);
    rig_on_edge((unsigned)pin, mode == FALLING ? RIG_FALLING : mode == RISING ? RIG_RISING
                               : mode == CHANGE ? RIG_CHANGE : RIG_LOW, handler);
}
static inline void detachInterrupt(int pin) { rig_on_edge((unsigned)pin, 0, 0); }
static inline void interrupts(void) { rig_interrupts(1); }
static inline void noInterrupts(void) { rig_interrupts(0); }

#define bitRead(value, bit) (((value) >> (bit)) & 1)
#define bitSet(value, bit) ((value) |= (1ul << (bit)))
#define bitClear(value, bit) ((value) &= ~(1ul << (bit)))

#ifdef __cplusplus
struct rig_bytes {
    uint8_t read(int at) { return rig_load((unsigned)at); }
    void write(int at, uint8_t value) { rig_store((unsigned)at, value); }
    void update(int at, uint8_t value) { if (rig_load((unsigned)at) != value) rig_store((unsigned)at, value); }
    template <class T> T &get(int at, T &into) {
        for (unsigned i = 0; i < sizeof(T); i++) ((uint8_t *)&into)[i] = rig_load((unsigned)at + i);
        return into;
    }
    template <class T> const T &put(int at, const T &from) {
        for (unsigned i = 0; i < sizeof(T); i++) update(at + (int)i, ((const uint8_t *)&from)[i]);
        return from;
    }
};
static rig_bytes EEPROM __attribute__((unused));
#endif
#endif
