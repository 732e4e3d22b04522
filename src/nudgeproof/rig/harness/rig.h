/* The calls that a firmware makes of its controller, answered by the rig in virtual time.
 *
 * Pins are numbers from 0 to 63. A call takes the time that `each call` says, a basic block that of `each block`.
 * An interrupt is delivered before the next block or call, while interrupts are on; they are on at a start, and off
 * while a handler runs.
 */
#ifndef RIG_H
#define RIG_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef void (*rig_handler)(void);

/* Which edges of a pin interrupt; RIG_LOW does so all the while that the pin is low. */
enum { RIG_FALLING = 1, RIG_RISING = 2, RIG_CHANGE = 3, RIG_LOW = 4 };

/* Why the controller started. */
enum { RIG_POWER = 1, RIG_WATCHDOG = 2 };

/* The running clock, from the start on; it stands still in deep sleep and comes round (`clock` in rig.yaml). */
uint32_t rig_us(void);
uint32_t rig_ms(void);

int rig_read(unsigned pin);
void rig_write(unsigned pin, int level);
void rig_level(unsigned pin, unsigned level); /* PWM: 0 to 255; rig_write gives 0 or 255 */
void rig_pull(unsigned pin, int up);          /* an input that nothing drives reads this */

/* An edge sets the pin's flag from now on; handler 0 ends that. Arming leaves the flag as it is, rig_clear clears it. */
void rig_on_edge(unsigned pin, int edges, rig_handler handler);
void rig_clear(unsigned pin);

void rig_alarm(uint32_t us, rig_handler handler); /* once; by the running clock; handler 0 ends it */
void rig_rouse(uint32_t ms, rig_handler handler); /* again and again; runs on in deep sleep; handler 0 ends it */

/* What is pending is delivered when they come on; a sleep that comes next ends at once then. */
void rig_interrupts(int on);

/* Until an interrupt is pending. Nothing sleeps while one is; with interrupts off it wakes too, and the handler waits. */
enum { RIG_LIGHT = 0, RIG_DEEP = 1 };
void rig_sleep(int depth);

void rig_delay(uint32_t us); /* interrupts are delivered meanwhile */

void rig_watch(uint32_t ms); /* the watchdog resets unless it is fed so often; 0 ends it; it runs on in sleep */
void rig_feed(void);

/* Bytes that outlast a power cut. A store is begun and takes its time; the next load or store waits for its end. */
uint8_t rig_load(unsigned at);
void rig_store(unsigned at, uint8_t byte);
void rig_finish(void); /* waits until nothing is being stored */

int rig_cause(void);

#ifdef __cplusplus
}
#endif
#endif
