/* What the parts of the harness know of each other; no firmware includes it. */
#ifndef RIG_INSIDE_H
#define RIG_INSIDE_H

#include "rig.h"

#ifdef __cplusplus
extern "C" {
#endif

enum { RIG_PINS = 64, RIG_TIMERS = 8, RIG_ALARM = 0, RIG_ROUSE = 1, RIG_FREE = 2 };

/* A timer: first after `first_us`, then every `every_us` (0: once); `deep`: by real time, also in deep sleep. */
void rig_timer(int slot, uint64_t first_us, uint64_t every_us, int deep, rig_handler handler);
/* Pins of one group (not 0) share a flag. */
void rig_group(unsigned pin, int group);
void rig_arm(unsigned pin, int edges, rig_handler handler);
void rig_forget(unsigned pin);
void rig_release(unsigned pin, int up);
int rig_is_pending(unsigned pin);
void rig_drive(unsigned pin, int drives, unsigned level);
int rig_is_on(void);
/* Sleep from which interrupts that are off don't wake. */
void rig_sleep_only_if_on(int depth);
/* Passes the time of one call, then says how soon a block must look again: at once. */
void rig_called(void);
void rig_look_soon(void);
int rig_level_of(unsigned pin);
void rig_misuse(const char *what, unsigned value);
uint64_t rig_now(void);
void rig_wait(uint64_t until_us);
extern void (*rig_look)(void);
extern unsigned rig_external[2];

void rig_firmware(void); /* the entry: see entry.c */

#ifdef __cplusplus
}
#endif
#endif
