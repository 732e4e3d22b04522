/* Register-style 8-bit calls: ports, interrupt vectors, sleep modes, two timers, a watchdog and stored bytes.
 *
 * A register is a place in the rig that is looked at before it is read and after it was written, so each access is one call.
 * Flags are cleared by writing them with `=`; `|=` clears none.
 */
#ifndef RIG_REGISTERS_H
#define RIG_REGISTERS_H

#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include "rig.h"

#ifdef __cplusplus
extern "C" {
#endif

enum {
    RIG_PIN, RIG_DDR = RIG_PIN + 4, RIG_PORT = RIG_DDR + 4, RIG_PCMSK = RIG_PORT + 4, RIG_PCICR = RIG_PCMSK + 3,
    RIG_PCIFR, RIG_EICRA, RIG_EIMSK, RIG_EIFR, RIG_MCUSR, RIG_MCUCR, RIG_WDTCSR, RIG_TIMER,
    RIG_TCCRA = 0, RIG_TCCRB, RIG_TIMSK, RIG_TIFR, RIG_TIMER_SIZE, RIG_REGISTERS = RIG_TIMER + 2 * RIG_TIMER_SIZE,
    RIG_WIDE_TCNT0 = 0, RIG_WIDE_OCR0A, RIG_WIDE_TCNT1, RIG_WIDE_OCR1A, RIG_WIDE
};

volatile uint8_t *rig_register(int which);
volatile uint16_t *rig_wide(int which);
void rig_sleep_mode(int mode);
void rig_sleep_enable(int enable);
void rig_sleep_now(void);
unsigned rig_byte(const void *at);
void rig_wait_us(double us);
void rig_watch_by(int prescaler);

#define PINA (*rig_register(RIG_PIN))
#define PINB (*rig_register(RIG_PIN + 1))
#define PINC (*rig_register(RIG_PIN + 2))
#define PIND (*rig_register(RIG_PIN + 3))
#define DDRA (*rig_register(RIG_DDR))
#define DDRB (*rig_register(RIG_DDR + 1))
#define DDRC (*rig_register(RIG_DDR + 2))
#define DDRD (*rig_register(RIG_DDR + 3))
#define PORTA (*rig_register(RIG_PORT))
#define PORTB (*rig_register(RIG_PORT + 1))
#define PORTC (*rig_register(RIG_PORT + 2))
#define PORTD (*rig_register(RIG_PORT + 3))
#define PCMSK0 (*rig_register(RIG_PCMSK))
#define PCMSK1 (*rig_register(RIG_PCMSK + 1))
#define PCMSK2 (*rig_register(RIG_PCMSK + 2))
#define PCMSK PCMSK0
#define PCICR (*rig_register(RIG_PCICR))
#define PCIFR (*rig_register(RIG_PCIFR))
#define EICRA (*rig_register(RIG_EICRA))
#define EIMSK (*rig_register(RIG_EIMSK))
#define EIFR (*rig_register(RIG_EIFR))
#define MCUSR (*rig_register(RIG_MCUSR))
#define MCUCR (*rig_register(RIG_MCUCR))
#define WDTCSR (*rig_register(RIG_WDTCSR))
#define TCCR0A (*rig_register(RIG_TIMER + RIG_TCCRA))
#define TCCR0B (*rig_register(RIG_TIMER + RIG_TCCRB))
#define TIMSK0 (*rig_register(RIG_TIMER + RIG_TIMSK))
#define TIFR0 (*rig_register(RIG_TIMER + RIG_TIFR))
#define TCCR1A (*rig_register(RIG_TIMER + RIG_TIMER_SIZE + RIG_TCCRA))
#define TCCR1B (*rig_register(RIG_TIMER + RIG_TIMER_SIZE + RIG_TCCRB))
#define TIMSK1 (*rig_register(RIG_TIMER + RIG_TIMER_SIZE + RIG_TIMSK))
#define TIFR1 (*rig_register(RIG_TIMER + RIG_TIMER_SIZE + RIG_TIFR))
#define TCNT0 (*rig_wide(RIG_WIDE_TCNT0))
#define OCR0A (*rig_wide(RIG_WIDE_OCR0A))
#define TCNT1 (*rig_wide(RIG_WIDE_TCNT1))
#define OCR1A (*rig_wide(RIG_WIDE_OCR1A))

enum { PCIE0 = 0, PCIE1, PCIE2, PCIF0 = 0, PCIF1, PCIF2, INT0 = 0, INT1, INTF0 = 0, INTF1 };
enum { ISC00 = 0, ISC01, ISC10, ISC11, PORF = 0, EXTRF, BORF, WDRF };
enum { WDP0 = 0, WDP1, WDP2, WDE, WDCE, WDP3, WDIE, WDIF };
enum { CS00 = 0, CS01, CS02, CS10 = 0, CS11, CS12, WGM01 = 1, WGM12 = 3 };
enum { TOIE0 = 0, OCIE0A, TOIE1 = 0, OCIE1A, TOV0 = 0, OCF0A, TOV1 = 0, OCF1A };
enum { PB0 = 0, PB1, PB2, PB3, PB4, PB5, PB6, PB7, PC0 = 0, PC1, PC2, PC3, PC4, PC5, PC6, PC7 };
enum { PA0 = 0, PA1, PA2, PA3, PA4, PA5, PA6, PA7, PD0 = 0, PD1, PD2, PD3, PD4, PD5, PD6, PD7 };

#define _BV(bit) (1u << (bit))
#define bit_is_set(port, bit) ((port) & _BV(bit))
#define bit_is_clear(port, bit) (!((port) & _BV(bit)))

#ifdef __cplusplus
#define ISR(vector, ...) extern "C" void vector(void); void vector(void)
#else
#define ISR(vector, ...) void vector(void); void vector(void)
#endif
#define EMPTY_INTERRUPT(vector) ISR(vector) {}
#define TIM0_COMPA_vect TIMER0_COMPA_vect
#define TIM0_OVF_vect TIMER0_OVF_vect
#define TIM1_COMPA_vect TIMER1_COMPA_vect
#define TIM1_OVF_vect TIMER1_OVF_vect

#define sei() rig_interrupts(1)
#define cli() rig_interrupts(0)

#define SLEEP_MODE_IDLE 0
#define SLEEP_MODE_PWR_DOWN 2
#define SLEEP_MODE_PWR_SAVE 3
#define SLEEP_MODE_STANDBY 6
#define set_sleep_mode(mode) rig_sleep_mode(mode)
#define sleep_enable() rig_sleep_enable(1)
#define sleep_disable() rig_sleep_enable(0)
#define sleep_cpu() rig_sleep_now()
#define sleep_mode() do { sleep_enable(); sleep_cpu(); sleep_disable(); } while (0)

enum { WDTO_15MS = 0, WDTO_30MS, WDTO_60MS, WDTO_120MS, WDTO_250MS, WDTO_500MS, WDTO_1S, WDTO_2S, WDTO_4S, WDTO_8S };
#define wdt_enable(prescaler) rig_watch_by(prescaler)
#define wdt_disable() rig_watch(0)
#define wdt_reset() rig_feed()

#define _delay_ms(ms) rig_wait_us((double)(ms) * 1000)
#define _delay_us(us) rig_wait_us((double)(us))

/* A stored variable is a place among the bytes; the value that it is declared with is not written. */
#ifdef __ELF__
#define EEMEM __attribute__((section("rig_bytes"), used))
#else
#define EEMEM rig_stored_variables_need_a_system_with_elf
#endif
#define eeprom_busy_wait() rig_finish()
static inline uint8_t eeprom_read_byte(const uint8_t *at) { return rig_load(rig_byte(at)); }
static inline void eeprom_write_byte(uint8_t *at, uint8_t value) { rig_store(rig_byte(at), value); }
static inline void eeprom_update_byte(uint8_t *at, uint8_t value) {
    if (eeprom_read_byte(at) != value) eeprom_write_byte(at, value);
}
static inline void eeprom_read_block(void *into, const void *at, size_t size) {
    for (size_t i = 0; i < size; i++) ((uint8_t *)into)[i] = eeprom_read_byte((const uint8_t *)at + i);
}
static inline void eeprom_update_block(const void *from, void *at, size_t size) {
    for (size_t i = 0; i < size; i++) eeprom_update_byte((uint8_t *)at + i, ((const uint8_t *)from)[i]);
}
static inline void eeprom_write_block(const void *from, void *at, size_t size) {
    for (size_t i = 0; i < size; i++) eeprom_write_byte((uint8_t *)at + i, ((const uint8_t *)from)[i]);
}
static inline uint16_t eeprom_read_word(const uint16_t *at) {
    uint16_t value;
    eeprom_read_block(&value, at, 2);
    return value;
}
static inline void eeprom_update_word(uint16_t *at, uint16_t value) { eeprom_update_block(&value, at, 2); }

/* The firmware says how fast its controller runs; of several sources the first one does. */
#ifdef F_CPU
__attribute__((weak)) uint32_t rig_cpu_hz = F_CPU;
#endif

/* As on the real ones interrupts are off at a start, but for sketches, whose start-up code puts them on. */
#ifndef RIG_SKETCH_H
__attribute__((weak)) int rig_starts_off = 1;
#endif

#ifdef __cplusplus
}
#endif
#endif
