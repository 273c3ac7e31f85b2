/* Runs the reference firmware in libsimavr with simulated converter chips and its serial line on a pseudo-terminal.
 *
 *   board_simulator LINK board.elf      LINK becomes the name of the pseudo-terminal
 *
 * Commands on standard input, one a line: tc CHIP DEGREES, cj DEGREES, fault CHIP none|open|gnd|vcc|absent, reset, unplug,
 * plug, quit. It runs in real time. A test program of its own: libsimavr is GPL-3.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <pty.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_spi.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define CHIPS 4
enum { ABSENT = 8 };

static avr_t *avr;
static avr_irq_t *to_avr;
static double junction_c[CHIPS] = {20, 20, 20, 20}, terminals_c = 25;
static unsigned faults[CHIPS];
static int selected[CHIPS], byte_number;
static uint32_t frame;
static int master = -1;
static const char *name;

static uint32_t frame_of(int chip)
{
    if (faults[chip] & ABSENT)
        return 0xFFFFFFFFu;
    long junction = lrint(junction_c[chip] * 4), terminals = lrint(terminals_c * 16);
    unsigned fault = faults[chip];
    return (uint32_t)(junction & 0x3FFF) << 18 | (fault ? 1u << 16 : 0) | (uint32_t)(terminals & 0xFFF) << 4 | fault;
}
static void on_select(avr_irq_t *irq, uint32_t level, void *param)
{
    (void)irq;
    int chip = (int)(intptr_t)param, was = selected[chip];
    selected[chip] = !(level & 1);
    if (!was && selected[chip]) {
        frame = frame_of(chip);
        byte_number = 0;
    }
}
static void on_spi(avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)value, (void)param;
    int any = 0;
    for (int chip = 0; chip < CHIPS; chip++)
        any |= selected[chip];
    uint8_t byte = any && byte_number < 4 ? frame >> (24 - 8 * byte_number) : 0xFF;
    byte_number++;
    avr_raise_irq(to_avr, byte);
}
static void on_serial(avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)param;
    uint8_t byte = value;
    if (master >= 0 && write(master, &byte, 1) < 0 && errno != EAGAIN)
        perror("write");
}
static void plug(void)
{
    int slave;
    char path[64];
    struct termios raw;
    if (openpty(&master, &slave, path, NULL, NULL)) {
        perror("openpty");
        exit(2);
    }
    tcgetattr(slave, &raw);
    cfmakeraw(&raw);
    tcsetattr(slave, TCSANOW, &raw);
    close(slave);
    fcntl(master, F_SETFL, O_NONBLOCK);
    unlink(name);
    if (symlink(path, name))
        perror("symlink");
    printf("plugged %s\n", path);
    fflush(stdout);
}
static void unplug(void)
{
    if (master < 0)
        return;
    unlink(name);
    close(master);
    master = -1;
}
static int obey(char *line)
{
    char word[3][32] = {"", "", ""};
    if (sscanf(line, "%31s %31s %31s", word[0], word[1], word[2]) < 1)
        return 1;
    int chip = atoi(word[1]) - 1;
    if (!strcmp(word[0], "quit"))
        return 0;
    if (!strcmp(word[0], "unplug"))
        unplug();
    else if (!strcmp(word[0], "plug")) {
        unplug();
        plug();
        avr_reset(avr);
    } else if (!strcmp(word[0], "reset"))
        avr_reset(avr);
    else if (!strcmp(word[0], "cj"))
        terminals_c = atof(word[1]);
    else if (chip >= 0 && chip < CHIPS && !strcmp(word[0], "tc"))
        junction_c[chip] = atof(word[2]);
    else if (chip >= 0 && chip < CHIPS && !strcmp(word[0], "fault"))
        faults[chip] = !strcmp(word[2], "open") ? 1 : !strcmp(word[2], "gnd") ? 2 : !strcmp(word[2], "vcc") ? 4
                     : !strcmp(word[2], "absent") ? ABSENT : 0;
    else
        fprintf(stderr, "unknown: %s\n", line);
    return 1;
}
static void no_sleep(avr_t *one, avr_cycle_count_t cycles) { (void)one, (void)cycles; }
static double seconds(void)
{
    struct timespec at;
    clock_gettime(CLOCK_MONOTONIC, &at);
    return at.tv_sec + at.tv_nsec * 1e-9;
}
static void wire(void)
{
    static const int pins[CHIPS] = {2, 1, 0, 7};
    to_avr = avr_io_getirq(avr, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_OUTPUT), on_spi, NULL);
    for (intptr_t chip = 0; chip < CHIPS; chip++) {
        char port = chip < 3 ? 'B' : 'D';
        avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(port), pins[chip]), on_select, (void *)chip);
    }
    uint32_t flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= ~(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_serial, NULL);
}
int main(int count, char **words)
{
    elf_firmware_t firmware = {0};
    if (count != 3 || elf_read_firmware(words[2], &firmware)) {
        fprintf(stderr, "board_simulator LINK board.elf\n");
        return 2;
    }
    name = words[1];
    avr = avr_make_mcu_by_name("atmega328p");
    if (!avr)
        return 2;
    avr_init(avr);
    firmware.frequency = 16000000;
    avr_load_firmware(avr, &firmware);
    avr->log = 1;
    avr->sleep = no_sleep;
    wire();
    plug();
    fcntl(0, F_SETFL, O_NONBLOCK);
    char line[128];
    size_t length = 0;
    double began = seconds();
    avr_cycle_count_t slice = avr->frequency / 1000, next = slice;
    for (int go_on = 1; go_on;) {
        int state = avr_run(avr);
        if (state == cpu_Done || state == cpu_Crashed)
            return 1;
        if (avr->cycle < next)
            continue;
        next = avr->cycle + slice;
        char byte;
        ssize_t got;
        while (go_on && (got = read(0, &byte, 1)) == 1) {
            if (byte == '\n') {
                line[length] = 0;
                length = 0;
                go_on = obey(line);
            } else if (length < sizeof line - 1)
                line[length++] = byte;
        }
        if (got == 0)
            break; /* whoever started it is gone */
        double ahead = (double)avr->cycle / avr->frequency - (seconds() - began);
        if (ahead > 0.0005)
            usleep(ahead * 1e6);
    }
    unplug();
    return 0;
}
