# A display that takes no more (Ctrl-S on the terminal) must not stop the run, which says so in its journal; a process that
# stood still must have its pump stopped and its run ended, which says why. Arguments: program, work folder; a bench of
# speed 20 is described there.
import atexit
import os
import pty
import signal
import subprocess
import sys
import time
import tty

program, work = sys.argv[1:3]
SPEED = "20"
bench = os.path.join(work, "bench.toml")
out = os.path.join(work, "out")
# Everything between the program and its pump goes by here.
text = open(bench).read()
pump = next(block for block in text.split("[[instrument]]") if 'role = "pump"' in block)
real = pump.split('link = "pty ')[1].split('"')[0]
real_fd = os.open(real, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
master, slave = pty.openpty()
tty.setraw(real_fd)
tty.setraw(slave)
open(bench, "w").write(text.replace(real, os.ttyname(slave)).replace("hang_s = 2 ", "hang_s = 0.5 "))
os.set_blocking(master, False)
screen, screen_end = pty.openpty()
run = subprocess.Popen([program, "calibrate", "--bench", bench, "--gauge", "demo-bucket-200-twin", "--plan",
                        "three-point-check", "--speed", SPEED, "--out", out], stdout=screen_end,
                       stderr=subprocess.PIPE)
atexit.register(run.kill)
sent = b""  # to the pump


def drain_screen():
    try:
        os.read(screen, 65536)
    except OSError:
        pass


def fill_screen():
    os.set_blocking(screen_end, False)
    try:
        while True:
            os.write(screen_end, b"x" * 256)
    except BlockingIOError:
        os.set_blocking(screen_end, True)


def relay():
    global sent
    for source, sink in ((master, real_fd), (real_fd, master)):
        try:
            data = os.read(source, 4096)
        except (BlockingIOError, OSError):
            continue
        if source == master:
            sent += data
        os.write(sink, data)


def lines(kind):
    text = open(journal).read() if os.path.exists(journal) else ""
    return [line for line in text.splitlines() if f" {kind} " in line]


# Once water flows, the display takes no more: the journal grows on, and says that the display is lost.
journal = os.path.join(out, "journal.twj")
os.set_blocking(screen, False)
flowing, told, end = False, False, time.time() + 120
while time.time() < end and not told and run.poll() is None:
    relay()
    if not flowing:
        drain_screen()
        flowing = b"FLOW " in sent
        if flowing:
            fill_screen()
    told = flowing and any("display takes no more" in line for line in lines("remark"))
    time.sleep(0.002)
assert told, f"exit code {run.poll()}: the journal does not tell of the display: {lines('remark')}"
weights = len(lines("weight"))
end = time.time() + 2
while time.time() < end:
    relay()
    time.sleep(0.002)
assert run.poll() is None and len(lines("weight")) > weights, "the run did not go on without its display"

# The process stands still for longer than the watchdog allows: the pump is stopped for it, and the run ends.
while sent.rfind(b"STOP") > sent.rfind(b"FLOW ") and time.time() < end + 60:
    relay()
os.kill(run.pid, signal.SIGSTOP)
end = time.time() + 1
while time.time() < end:
    relay()
    time.sleep(0.002)
os.kill(run.pid, signal.SIGCONT)
end = time.time() + 120
while run.poll() is None and time.time() < end:
    relay()
    drain_screen()
    time.sleep(0.002)
said = run.stderr.read().decode()
assert sent.rfind(b"STOP") > sent.rfind(b"FLOW "), "the pump was not stopped: " + repr(sent[-80:])
assert run.poll() == 3, f"exit code {run.poll()}: {said}"
assert "watchdog" in said, said
assert " close " in open(journal).read().splitlines()[-1], "the journal was not closed"
print("all checks passed")
