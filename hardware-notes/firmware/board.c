/* Reads up to four thermocouple-to-digital converters over SPI and sends one line of text a second.
 *
 * For an ATmega328P at 16 MHz. Each converter answers 32 bits, most significant first (SPI mode 0): 14 bits of junction
 * temperature in 1/4 degree, a reserved 0, a bit that is the or of the last three, 12 bits of terminal temperature in 1/16
 * degree, a reserved 0, and three faults: short to supply, short to ground, open. The terminals are compensated there.
 *
 * A line:  t=12.000 n=11 tc1=345.25C cj1=25.31C tc2=open cj2=25.31C*9A3F
 *   t    seconds since start            n    number of the line, so that a lost one is seen
 *   *    CRC-16 as on Modbus lines, of all bytes before it
 *
 *   avr-gcc -mmcu=atmega328p -DF_CPU=16000000UL -DCONVERTERS=2 -Os -std=gnu99 -Wall -Wextra -o board.elf board.c
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <stdint.h>
#include <util/atomic.h>

#ifndef CONVERTERS
#define CONVERTERS 2
#endif
#ifndef BAUD
#define BAUD 38400UL /* 0.16 % off at 16 MHz; 115200 would be 2.1 % off */
#endif
#if CONVERTERS < 1 || CONVERTERS > 4
#error "CONVERTERS is 1 to 4"
#endif

/* The clock: one interrupt a millisecond. */
static volatile uint32_t ms;
ISR(TIMER0_COMPA_vect) { ms++; }
static uint32_t now(void)
{
    uint32_t t;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { t = ms; }
    return t;
}

/* The serial line. Sending waits for each byte: a line takes 20 ms of a second. */
static uint16_t crc;
static void send_plain(uint8_t byte)
{
    while (!(UCSR0A & _BV(UDRE0))) {
    }
    UDR0 = byte;
}
static void send(uint8_t byte)
{
    crc ^= byte;
    for (uint8_t bit = 0; bit < 8; bit++)
        crc = crc & 1 ? (crc >> 1) ^ 0xA001 : crc >> 1;
    send_plain(byte);
}
static void send_text(const char *text)
{
    while (*text)
        send(*text++);
}
static void send_number(uint32_t number, uint8_t least_digits)
{
    char digits[10];
    uint8_t count = 0;
    do {
        digits[count++] = '0' + number % 10;
        number /= 10;
    } while (number || count < least_digits);
    while (count)
        send(digits[--count]);
}
/* Value in parts of a degree, with two decimals, rounded to the nearest. */
static void send_degrees(int16_t value, uint8_t parts)
{
    uint32_t hundredths = ((uint32_t)(value < 0 ? -(int32_t)value : value) * 100 + parts / 2) / parts;
    if (value < 0)
        send('-');
    send_number(hundredths / 100, 1);
    send('.');
    send_number(hundredths % 100, 2);
    send('C');
}
static void end_line(void)
{
    uint16_t sum = crc;
    send_plain('*');
    for (int8_t shift = 12; shift >= 0; shift -= 4) {
        uint8_t digit = (sum >> shift) & 15;
        send_plain(digit < 10 ? '0' + digit : 'A' + digit - 10);
    }
    send_plain('\r');
    send_plain('\n');
}

/* The converters: chip selects on PB2, PB1, PB0 and PD7. */
static void select_chip(uint8_t chip, uint8_t level)
{
    volatile uint8_t *port = chip < 3 ? &PORTB : &PORTD;
    uint8_t mask = chip < 3 ? _BV(2 - chip) : _BV(PD7);
    if (level)
        *port |= mask;
    else
        *port &= ~mask;
}
static uint32_t read_chip(uint8_t chip)
{
    uint32_t frame = 0;
    select_chip(chip, 0);
    for (uint8_t byte = 0; byte < 4; byte++) {
        SPDR = 0;
        while (!(SPSR & _BV(SPIF))) {
        }
        frame = frame << 8 | SPDR;
    }
    select_chip(chip, 1);
    return frame;
}
/* Frames of a chip that is not there, or that the bits contradict. */
static uint8_t is_sound(uint32_t frame)
{
    uint8_t any = frame >> 16 & 1, faults = frame & 7;
    return frame != 0 && frame != 0xFFFFFFFFUL && !(frame & 0x20008UL) && any == (faults != 0);
}
static void send_chip(uint8_t chip)
{
    uint32_t frame = read_chip(chip);
    send_text(" tc");
    send('1' + chip);
    send('=');
    if (!is_sound(frame)) {
        send_text("err");
        return;
    }
    if (frame & 1)
        send_text("open");
    else if (frame & 2)
        send_text("scg");
    else if (frame & 4)
        send_text("scv");
    else
        send_degrees((int16_t)(frame >> 16) >> 2, 4);
    send_text(" cj");
    send('1' + chip);
    send('=');
    send_degrees((int16_t)(frame & 0xFFF0) >> 4, 16);
}

int main(void)
{
    MCUSR = 0;
    wdt_disable();
    TCCR0A = _BV(WGM01);
    OCR0A = F_CPU / 64 / 1000 - 1;
    TCCR0B = _BV(CS01) | _BV(CS00);
    TIMSK0 = _BV(OCIE0A);
    UCSR0A = _BV(U2X0);
    UBRR0 = (F_CPU + 4 * BAUD) / (8 * BAUD) - 1;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(TXEN0);
    for (uint8_t chip = 0; chip < CONVERTERS; chip++)
        select_chip(chip, 1);
    DDRB |= _BV(PB0) | _BV(PB1) | _BV(PB2) | _BV(PB3) | _BV(PB5);
    DDRD |= _BV(PD7);
    SPCR = _BV(SPE) | _BV(MSTR) | _BV(SPR0);
    set_sleep_mode(SLEEP_MODE_IDLE);
    sei();
    wdt_enable(WDTO_2S);
    /* The converters need 0.1 s, and 0.2 s when they look for faults. */
    uint32_t due = 500, number = 0;
    for (;;) {
        wdt_reset();
        sleep_mode();
        if ((int32_t)(now() - due) < 0)
            continue;
        uint32_t at = due;
        due += 1000;
        crc = 0xFFFF;
        send_text("t=");
        send_number(at / 1000, 1);
        send('.');
        send_number(at % 1000, 3);
        send_text(" n=");
        send_number(number++, 1);
        for (uint8_t chip = 0; chip < CONVERTERS; chip++)
            send_chip(chip);
        end_line();
    }
}
