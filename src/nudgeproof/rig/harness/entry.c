/* How the firmware is entered; RIG_ENTRY is set when the harness is built. */
#include "inside.h"

#if RIG_ENTRY == 1
/* Its own main, renamed when it was compiled. */
int rig_main(void);
void rig_firmware(void) { rig_main(); }
#elif RIG_ENTRY == 2
void setup(void);
void loop(void);
void rig_firmware(void) {
    setup();
    for (;;) {
        loop();
        rig_called();
    }
}
#else
/* `start` once, then `step` at fixed moments; a step that lasts longer delays the next ones. */
void start(void);
void step(void);
extern uint64_t rig_step_us;
void rig_firmware(void) {
    uint64_t next;
    start();
    for (next = rig_now();; next += rig_step_us) {
        while (next < rig_now()) next += rig_step_us;
        rig_wait(next);
        step();
    }
}
#endif
