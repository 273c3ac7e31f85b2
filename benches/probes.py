"""What reading probes costs: python3 benches/probes.py target/release/firstheat [SECONDS]

Feeds lines to pseudo-terminals and reads the processor time of `firstheat probes watch` from /proc (user and system,
all threads). Three cases: 64 channels at 10 lines a second on one port, the same on eight ports of eight channels, and
a port on which nothing is attached. It prints each share of one core beside its bar and does not judge: the machine
may be busy with other things.
"""
import os
import pathlib
import pty
import subprocess
import sys
import tempfile
import termios
import time
import tty

RATE_HZ = 10
HEAD = 'format = "firstheat probes 1"\n'


def port(path, channels):
    text = f'[[port]]\npath = "{path}"\ncheck = "crc16"\n'
    for name in channels:
        text += f'[[port.channel]]\nname = "{name}"\nplace = "chamber-gas"\ntype = "K"\nlabel = "{name}"\n'
    return text


def crc16(data):
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return crc


def line(channels, tick):
    values = " ".join(f"{name}={20 + (tick * 7 + at * 13) % 900 / 10:.2f}C" for at, name in enumerate(channels))
    body = f"t={tick / RATE_HZ:.1f} {values}".encode()
    return body + b"*%04X\r\n" % crc16(body)


def spent_s(process):
    fields = pathlib.Path(f"/proc/{process.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def opened():
    far, near = pty.openpty()
    tty.setraw(near, termios.TCSANOW)
    return far, near


def measure(program, probes, span_s, feeds, detach=None):
    with tempfile.NamedTemporaryFile("w", suffix=".toml") as file:
        file.write(HEAD + probes)
        file.flush()
        process = subprocess.Popen([program, "probes", "watch", file.name], stdout=subprocess.PIPE, text=False)
        taken = 0
        os.set_blocking(process.stdout.fileno(), False)
        time.sleep(1.0)
        if detach:
            detach()
            time.sleep(2.0)
        # Lines are made before the clock starts, so that the feeder keeps its rate.
        made = [[(far, line(channels, tick)) for far, channels in feeds] for tick in range(int(span_s * RATE_HZ))]
        began, spent = time.monotonic(), spent_s(process)
        for tick, lines in enumerate(made):
            for far, text in lines:
                os.write(far, text)
            taken += len(process.stdout.read() or b"")
            time.sleep(max(0.0, began + (tick + 1) / RATE_HZ - time.monotonic()))
        length_s = time.monotonic() - began
        share = 100 * (spent_s(process) - spent) / length_s
        process.terminate()
        process.wait()
        return share, length_s, taken


def main():
    program, span_s = sys.argv[1], float(sys.argv[2]) if len(sys.argv) > 2 else 60.0
    for ports in (1, 8):
        ends = [opened() for _ in range(ports)]
        names = [[f"p{at}c{channel}" for channel in range(64 // ports)] for at in range(ports)]
        probes = "".join(port(os.ttyname(near), channels) for (_, near), channels in zip(ends, names))
        feeds = [(far, channels) for (far, _), channels in zip(ends, names)]
        share, length_s, taken = measure(program, probes, span_s, feeds)
        print(f"64 channels on {ports} port(s) at {RATE_HZ} Hz for {length_s:.0f} s: {share:.2f} % of a core (bar 5 %), "
              f"{taken / length_s / 1000:.0f} kB/s printed", flush=True)
        for pair in ends:
            for end in pair:
                os.close(end)
    with tempfile.TemporaryDirectory() as shelf:
        far, near = opened()
        link = os.path.join(shelf, "board")
        os.symlink(os.ttyname(near), link)

        def detach():
            os.unlink(link)
            os.close(near)
            os.close(far)

        share, length_s, _ = measure(program, port(link, ["hot"]), span_s, [], detach)
        print(f"one port, nothing attached, for {length_s:.0f} s: {share:.2f} % of a core (bar 1 %)", flush=True)


main()
