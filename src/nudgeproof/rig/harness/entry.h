/* Comes before every source of the firmware: its entry has the name that C gives it, in C++ too. */
#ifndef RIG_ENTRY_H
#define RIG_ENTRY_H
#ifdef __cplusplus
extern "C" {
int rig_main(void);
void start(void);
void step(void);
}
#endif
#endif
