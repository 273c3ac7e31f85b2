#!/usr/bin/env python3
"""Plays furnace, thermocouple board and operator for tests of following.

A crude lumped furnace of its own (three masses and a puddle of water, nothing of firstheat's physics) heats while the
burner is on and sends a line such as

    t=12.0 hot=345.2 core=101.3 shell=33.0

each period to a pseudo-terminal, whose path is the first line on standard output. What firstheat says headless goes
into standard input: cues are obeyed in furnace time, marks that they name are set, and they are answered with the words
`on` and `off` on standard output,
`"kind":"end"` ends it. The plain words on, off and quit on standard input do the same by hand, and so does a schedule
file with lines such as `30 on` and `90 off` (seconds, word).

With --lockstep the next line is sent when a line with "kind":"reading" has come in. Python's standard library is all
it needs.
"""

import argparse
import json
import os
import select
import sys
import termios
import time
import tty

STEP_S = 0.25


class Furnace:
    """Hot face, core and shell as three masses; the core holds water that boils at 100 C until it is gone."""

    def __init__(self, power_w, water_kg):
        self.power_w = power_w
        self.water_kg = water_kg
        self.air_c = 20.0
        self.hot_c = self.core_c = self.shell_c = self.air_c

    def advance(self, span_s, fire):
        """Moves on with the burner at a share of its power; 0 or False shut."""
        while span_s > 1e-9:
            step_s = min(STEP_S, span_s)
            self._step(step_s, self.power_w * fire)
            span_s -= step_s

    def _step(self, step_s, power_w):
        into_core_w = 9.0 * (self.hot_c - self.core_c)
        into_shell_w = 4.0 * (self.core_c - self.shell_c)
        mouth_w = 0.5 * (self.hot_c - self.air_c) + 3e-10 * ((self.hot_c + 273.0) ** 4 - (self.air_c + 273.0) ** 4)
        self.hot_c += step_s * (power_w - into_core_w - mouth_w) / 4000.0
        core_j = step_s * (into_core_w - into_shell_w)
        if self.core_c >= 100.0 and self.water_kg > 0.0 and core_j > 0.0:
            self.water_kg -= core_j / 2.26e6
        else:
            self.core_c += core_j / 9000.0
        self.shell_c += step_s * (into_shell_w - 3.0 * (self.shell_c - self.air_c)) / 5000.0


class Line:
    """One end of a serial line: a new pseudo-terminal, or a path that is there already."""

    def __init__(self, path):
        self.is_own = path is None
        if self.is_own:
            self.end, near = os.openpty()
            self.path = os.ttyname(near)
            # Closed again, so that the far end tells when a reader opens it.
            os.close(near)
        else:
            self.path = path
            self.end = os.open(path, os.O_WRONLY | os.O_NOCTTY)
            if os.isatty(self.end):
                tty.setraw(self.end, termios.TCSANOW)
        self.is_read = False

    def wait_for_reader(self):
        """Waits until somebody has the port open and has had time to empty it of old bytes."""
        look = select.poll()
        look.register(self.end, 0)
        while self.is_own and any(event & select.POLLHUP for _, event in look.poll(0)):
            self.is_read = False
            time.sleep(0.02)
        if not self.is_own or self.is_read:
            return
        time.sleep(0.2)
        self.is_read = True
        os.write(self.end, b"\r\n")

    def send(self, text):
        while True:
            self.wait_for_reader()
            try:
                os.write(self.end, text.encode("ascii") + b"\r\n")
                return
            except OSError:
                if not self.is_own:
                    raise
                self.is_read = False
                time.sleep(0.05)


class Words:
    """Lines of standard input, taken without losing any and without waiting longer than asked."""

    def __init__(self):
        self.held = b""
        self.is_at_end = False

    def next(self, limit_s):
        """The next line; None when none comes in time (None as limit: for ever) or the input has ended."""
        until = None if limit_s is None else time.monotonic() + limit_s
        while b"\n" not in self.held:
            if self.is_at_end:
                return None
            left_s = None if until is None else max(0.0, until - time.monotonic())
            if not select.select([0], [], [], left_s)[0]:
                return None
            more = os.read(0, 65536)
            self.is_at_end = not more
            self.held += more
        line, self.held = self.held.split(b"\n", 1)
        return line.decode("utf-8", "replace").strip()


class Play:
    """The furnace, what is still to be done to its burner, and the operator's answers."""

    def __init__(self, options):
        self.options = options
        self.furnace = Furnace(options.power, options.water)
        self.lit = False
        self.now_s = 0.0
        self.to_do = list(schedule_in(options.schedule)) if options.schedule else []
        self.is_over = False
        self.last_reading_s = None

    def hear(self, line):
        """Takes a line of standard input. Gives whether it closes a probe line."""
        if line in ("on", "off"):
            self.turn(line == "on")
        elif line == "quit":
            self.is_over = True
        elif line.startswith("{"):
            return self.hear_json(json.loads(line))
        return False

    def hear_json(self, said):
        kind = said.get("kind")
        if kind == "cue":
            # A new cue says what is planned now; what was planned before is void.
            self.to_do = [(said["elapsed_s"] + said["in_s"], fire_of(said))]
            self.do_what_is_due(self.now_s)
        elif kind == "end":
            self.is_over = True
        elif kind == "reading":
            self.last_reading_s = said.get("elapsed_s")
            return True
        return False

    def turn(self, lit):
        if lit == self.lit or (self.options.overheat and not lit):
            return
        self.lit = lit
        print("on" if lit else "off", flush=True)

    def do_what_is_due(self, until_s):
        while self.to_do and self.to_do[0][0] <= until_s:
            at_s, lit = self.to_do.pop(0)
            if at_s > self.now_s:
                self.furnace.advance(at_s - self.now_s, self.lit)
                self.now_s = at_s
            self.turn(lit)

    def advance_to(self, until_s):
        self.do_what_is_due(until_s)
        self.furnace.advance(until_s - self.now_s, self.lit)
        self.now_s = until_s

    def line(self):
        values = {"hot": self.furnace.hot_c, "core": self.furnace.core_c, "shell": self.furnace.shell_c}
        words = {label: f"{temp_c:.1f}" for label, temp_c in values.items()}
        for label, word, from_s in self.options.fault:
            if self.now_s >= from_s:
                words[label] = word
        return f"t={self.now_s:.1f} " + " ".join(f"{label}={word}" for label, word in words.items())


def fire_of(cue):
    """Share of the full fire that a cue asks for."""
    if cue["burner"] == "off":
        return 0.0
    mark = (cue.get("set") or {}).get("mark")
    return mark["share"] if mark else 1.0


def schedule_in(path):
    with open(path, encoding="ascii") as file:
        for line in file:
            at_s, word = line.split()
            yield float(at_s), {"on": True, "off": False}[word]


def fault_in(text):
    label, rest = text.split("=")
    word, from_s = rest.split("@")
    return label, word, float(from_s)


def in_lockstep(play, line, words):
    while not play.is_over and play.now_s <= play.options.until:
        text = play.line()
        line.send(text)
        if not await_reading(play, line, words, text):
            return
        play.advance_to(play.now_s + play.options.period)


def await_reading(play, line, words, text):
    """Waits for the reading that closes `text`. Gives whether there is more to do."""
    sent_again = False
    while not play.is_over:
        # Only the very first line can have been thrown away, as part of what was there before the reader.
        first = play.last_reading_s is None
        said = words.next(3.0 if first else None)
        if said is None:
            if words.is_at_end:
                return False
            line.send(text)
            sent_again = True
        elif play.hear(said) and not (sent_again and play.last_reading_s < play.now_s - 1e-6):
            return True
    return False


def in_time(play, line, words):
    line.wait_for_reader()
    began = time.monotonic()
    while not play.is_over and play.now_s <= play.options.until:
        line.send(play.line())
        due_s = play.now_s + play.options.period
        while not play.is_over:
            left_s = began + due_s / play.options.speedup - time.monotonic()
            if left_s <= 0.0:
                break
            if words.is_at_end:
                time.sleep(left_s)
            else:
                said = words.next(left_s)
                if said is not None:
                    play.hear(said)
        play.advance_to(due_s)


def options():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--port", help="send to this path instead of a new pseudo-terminal")
    parser.add_argument("--period", type=float, default=1.0, help="furnace seconds from line to line")
    parser.add_argument("--lockstep", action="store_true", help="one line for each reading that comes in")
    parser.add_argument("--speedup", type=float, default=1.0, help="furnace seconds in a second, without --lockstep")
    parser.add_argument("--until", type=float, default=1e9, help="furnace seconds after which it ends")
    parser.add_argument("--overheat", action="store_true", help="never shut the burner once it is on")
    parser.add_argument("--schedule", help="file of `seconds on|off` lines")
    parser.add_argument("--power", type=float, default=9000.0, help="heat that the burner brings in, W")
    parser.add_argument("--water", type=float, default=0.3, help="water in the core, kg")
    parser.add_argument(
        "--fault", type=fault_in, action="append", default=[], help="LABEL=WORD@SECONDS: send WORD from then on"
    )
    parser.add_argument("--quit", action="store_true", help="say `quit` when the furnace is over")
    return parser.parse_args()


def main():
    play = Play(options())
    line = Line(play.options.port)
    print(line.path, flush=True)
    words = Words()
    if play.options.lockstep:
        in_lockstep(play, line, words)
    else:
        in_time(play, line, words)
    if play.options.quit:
        print("quit", flush=True)


if __name__ == "__main__":
    try:
        main()
    except (BrokenPipeError, KeyboardInterrupt):
        os._exit(0)
