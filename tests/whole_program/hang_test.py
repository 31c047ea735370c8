# A display that takes no more (Ctrl-S on the terminal) hangs the program: its watchdog must stop the pump on the
# pump's own link meanwhile, and the run must end for it when the display goes on. Arguments: program, work folder; a bench of speed 20 is described there.
import atexit
import os
import pty
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


# Once water flows, the display takes no more, and the program hangs in the middle of its run.
journal = os.path.join(out, "journal.twj")
os.set_blocking(screen, False)
size, since, flowing, hung = -1, time.time(), False, False
end = time.time() + 120
while time.time() < end and not hung and run.poll() is None:
    relay()
    now = os.path.getsize(journal) if os.path.exists(journal) else -1
    if now != size:
        size, since = now, time.time()
    if not flowing:
        drain_screen()
        flowing = b"FLOW " in sent
        if flowing:
            fill_screen()
    hung = flowing and time.time() - since > 2
    time.sleep(0.002)
assert hung, f"exit code {run.poll()}: the program did not hang on a display that takes no more"
flow = sent.rfind(b"FLOW ")
stop = sent.rfind(b"STOP\r")
assert flow >= 0 and stop > flow, "the watchdog did not stop the pump: " + repr(sent[-80:])

# The display goes on: the run ends for it, and says why.
end = time.time() + 120
while run.poll() is None and time.time() < end:
    relay()
    drain_screen()
    time.sleep(0.002)
said = run.stderr.read().decode()
assert run.poll() == 3, f"exit code {run.poll()}: {said}"
assert "watchdog" in said, said
assert " close " in open(journal).read().splitlines()[-1], "the journal was not closed"
print("all checks passed")
