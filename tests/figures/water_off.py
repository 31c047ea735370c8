# The campaign water_off: commands that move water on served benches, stopped by every cause at random; two seconds later
# the pump must stand, or the person must have been sent to its plug on the terminal and in the journal; where the
# display takes nothing, on standard error, which a person's terminal shows as well. What a killed program (SIGKILL)
# promises is less: a pump with a time limit of its own stops by that, which the served balance must show.
# balance-check lets no water flow: it must stop what was left running, and start nothing.
# Arguments: program, templates folder, number of runs, first seed. Prints a line for each run that falls short, then counts.
import collections
import os
import pty
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tty

program, templates, runs, first = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
SPEED = "20"
OWN_LIMIT_S = 20  # of a served pump, in seconds of its bench
# Two seconds at this speed are 40 of the bench, in which a pump at 60 mL/min or more sends more than this; a tip or
# two that were on their way send less.
RISE_G = 20
PLUG = b"PULL THE PUMP'S PLUG"
COMMANDS = ["calibrate", "lanes", "recover", "pump-calibration", "bench-check", "balance-check", "listen"]
SIGNALS = ["INT", "TERM", "HUP", "QUIT", "XFSZ", "USR1", "USR2", "TSTP", "STOP and CONT", "KILL"]
OUTPUTS = ["terminal", "closed at start", "closed by its reader", "full", "hung"]
LINKS = ["balance cut", "pump cut", "pump frozen", "pump swapped", "counter cut"]


class Relay:
    """A pseudo-terminal between the program and one instrument of the served bench."""

    def __init__(self, real):
        self.real = os.open(real, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self.real)
        self.sent = b""
        self.received = b""
        self.frozen = False
        self.stranger = False
        self.path = tempfile.mktemp(prefix="tipwright-link-")
        self.open()

    def open(self):
        self.master, slave = pty.openpty()
        tty.setraw(slave)
        os.set_blocking(self.master, False)
        self.slave = slave
        if os.path.lexists(self.path):
            os.unlink(self.path)
        os.symlink(os.ttyname(slave), self.path)

    def cut(self):
        os.unlink(self.path)
        os.close(self.slave)
        os.close(self.master)
        self.master = None

    def swap(self):
        self.cut()
        self.stranger = True
        self.open()

    def step(self):
        if self.master is None:
            return
        try:
            data = os.read(self.master, 4096)
        except OSError:
            data = b""
        if data and self.stranger:
            for line in data.split(b"\r"):
                if line.startswith(b"ID?"):
                    os.write(self.master, b"ID SOMEBODY ELSES PUMP\r\n")
            self.sent_to_stranger = getattr(self, "sent_to_stranger", b"") + data
        elif data and not self.frozen:
            self.sent += data
            os.write(self.real, data)
        try:
            data = os.read(self.real, 4096)
        except OSError:
            data = b""
        self.received = (self.received + data)[-4096:]
        if data and not self.frozen and not self.stranger:
            try:
                os.write(self.master, data)
            except OSError:
                pass

    def running(self):
        flow, stop = self.sent.rfind(b"FLOW "), self.sent.rfind(b"STOP")
        return flow > stop

    def reading_g(self):
        return float(re.findall(rb"(-?[0-9]+\.[0-9]+) g", self.received)[-1])

    def close(self):
        for fd in (self.real, self.slave, self.master):
            try:
                os.close(fd)
            except (OSError, TypeError):
                pass
        if os.path.lexists(self.path):
            os.unlink(self.path)


def patient(work, bench, own_limit):
    text = open(bench).read()
    if own_limit:
        text = text.replace('"generic-pump-ascii"', '"generic-pump-ascii-timeout"')
    for name in ("generic-pump-ascii", "generic-pump-ascii-timeout", "generic-balance-print", "generic-climate-ascii", "generic-tip-counter"):
        lines = open(os.path.join(templates, "instruments", name + ".toml")).read().splitlines()
        out = os.path.join(work, name + ".toml")
        with open(out, "w") as file:
            for line in lines:
                if line.startswith("answer_s"):
                    line = "answer_s = 6"
                if line.startswith("silence_s"):
                    line = "silence_s = 20"
                if line.startswith("own_timeout_s"):
                    line = f"own_timeout_s = {OWN_LIMIT_S}"
                file.write(line + "\n")
        text = text.replace('"%s"' % name, '"%s"' % out)
    return text


def one(seed):
    dice = random.Random(seed)
    command = dice.choice(COMMANDS)
    link = dice.choice(LINKS) if dice.random() < 0.5 else None
    if command == "listen" and link in ("balance cut", "counter cut"):
        link = "pump cut"  # the only link it has
    sign = dice.choice(SIGNALS) if link is None or dice.random() < 0.2 else None
    output = dice.choice(OUTPUTS)
    busy = dice.random() < 0.5
    told = f"seed {seed}: {command}, output {output}, link {link}, signal {sign}, {'busy' if busy else 'idle'}"
    work = tempfile.mkdtemp(prefix="tipwright-water-")
    relays, children = {}, []
    try:
        bench = os.path.join(work, "bench.toml")
        server = subprocess.Popen([program, "serve", "--gauge", "demo-bucket-200-twin", "--out", bench, "--speed", SPEED],
                                  stdout=subprocess.DEVNULL)
        children.append(server)
        end = time.time() + 30
        while time.time() < end and not (os.path.exists(bench) and os.path.getsize(bench) > 0):
            time.sleep(0.02)
        time.sleep(0.1)
        text = patient(work, bench, sign == "KILL")
        for role in ("pump", "balance", "counter", "climate"):
            block = next(b for b in text.split("[[instrument]]") if f'role = "{role}"' in b)
            real = block.split('link = "pty ')[1].split('"')[0]
            relays[role] = Relay(real)
            text = text.replace(f'"pty {real}"', f'"pty {relays[role].path}"')
        open(bench, "w").write(text)
        plan = os.path.join(work, "plan.toml")
        open(plan, "w").write('title = "Trial"\ntarget_U_percent = 2.0\ncoverage = 0.95\n[wetting]\nintensity_mm_h = 250\n'
                              'tips = 60\n[settle]\ntips = 2\ntime_s = 12\n[[step]]\nintensity_mm_h = 150\nmin_tips = 200\n'
                              'time_limit_s = 3000\n')
        out = os.path.join(work, "out")
        gauge = ["--gauge", "demo-bucket-200-twin"]
        fast = ["--speed", SPEED]
        journal = os.path.join(out, "journal.twj")
        calibrate = [program, "calibrate", "--bench", bench, *gauge, "--plan", plan, *fast, "--out", out]
        if command == "calibrate":
            line = calibrate
        elif command == "lanes":
            lanes = os.path.join(work, "lanes.toml")
            open(lanes, "w").write(f'title = "Trial"\n[[lane]]\nname = "one"\nbench = "{bench}"\ngauge = "demo-bucket-200-twin"\n'
                                   f'plan = "{plan}"\n')
            line = [program, "lanes", lanes, *fast, "--out", out]
            journal = os.path.join(out, "one", "journal.twj")
        elif command == "pump-calibration":
            line = [program, "pump-calibration", "--bench", bench, *gauge, *fast, "--flows", "100", "--limit", "3000",
                    "--target", "0.01"]
            journal = None
        elif command == "bench-check":
            line = [program, "bench-check", "--bench", bench, *gauge, *fast, "--watch", "20", "--flow", "60",
                    "--volume-mL", "400"]
            journal = None
        elif command == "listen":
            pump_profile = os.path.join(work, f"generic-pump-ascii{'-timeout' if sign == 'KILL' else ''}.toml")
            line = [program, "listen", "--link", "pty " + relays["pump"].path, "--profile", pump_profile, "--for", "600",
                    "--send", "FLOW 60.000\\r"]
            journal = None
        elif command == "balance-check":
            line = [program, "balance-check", "--bench", bench, *gauge, *fast, "--mass-g", "200", "--mass-u-g", "0.01"]
            journal = None
            # Left running by whoever had it before.
            os.write(relays["pump"].real, b"FLOW 60.000\r")
            relays["pump"].sent = b"FLOW 60.000\r"
        if command == "recover":
            start = subprocess.Popen(calibrate, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            children.append(start)
            end = time.time() + 60
            while time.time() < end and not relays["pump"].running() and start.poll() is None:
                for relay in relays.values():
                    relay.step()
                time.sleep(0.002)
            start.kill()
            start.wait()
            relays["pump"].sent = b""
            line = [program, "recover", out, "--resume", *fast]
        seen, readers = bytearray(), []
        stdout = None
        if output == "full":
            stdout = os.open("/dev/full", os.O_WRONLY)
        elif output == "closed by its reader":
            reader, stdout = os.pipe()
            readers.append(reader)
        elif output in ("terminal", "hung"):
            master, stdout = pty.openpty()
            readers.append(master)
        error_reader, error_end = os.pipe()
        for fd in readers + [error_reader]:
            os.set_blocking(fd, False)

        def prepare():
            os.setpgid(0, 0)
            if output == "closed at start":
                os.close(1)

        run = subprocess.Popen(line, stdin=subprocess.DEVNULL, stdout=stdout, stderr=error_end, preexec_fn=prepare)
        children.append(run)
        os.close(error_end)
        if output == "closed by its reader":
            os.close(stdout)
            os.close(readers.pop())
        if output == "hung":
            os.set_blocking(stdout, False)
            try:
                while True:
                    os.write(stdout, b"x" * 256)
            except BlockingIOError:
                pass
            os.set_blocking(stdout, True)
            readers.clear()

        def spin(seconds, until=lambda: False):
            end = time.time() + seconds
            while time.time() < end and not until():
                for relay in relays.values():
                    relay.step()
                for fd in readers + [error_reader]:
                    try:
                        seen.extend(os.read(fd, 65536))
                    except OSError:
                        pass
                time.sleep(0.002)

        if busy:
            children.append(subprocess.Popen([sys.executable, "-c", "while True: pass"]))
        if command == "balance-check":
            spin(60, lambda: not relays["pump"].running() or run.poll() is not None)
            if relays["pump"].running():
                return told, "the pump was left running: " + seen.decode(errors="replace")[-200:].strip(), True
        else:
            spin(60, lambda: relays["pump"].running() or run.poll() is not None)
        if command != "balance-check" and not relays["pump"].running():
            return told, "no water flowed: " + seen.decode(errors="replace")[-200:].strip().replace("\n", " | "), False
        spin(dice.uniform(0, 1.5))
        was_over = command != "balance-check" and not relays["pump"].running()
        if link == "balance cut":
            relays["balance"].cut()
        elif link == "counter cut":
            relays["counter"].cut()
        elif link == "pump cut":
            relays["pump"].cut()
        elif link == "pump frozen":
            relays["pump"].frozen = True
        elif link == "pump swapped":
            relays["pump"].swap()
        if sign == "STOP and CONT":
            os.kill(run.pid, signal.SIGSTOP)
            spin(3)
            os.kill(run.pid, signal.SIGCONT)
        elif sign:
            os.kill(run.pid, getattr(signal, "SIG" + sign))
        spin(2)
        if sign == "KILL":
            before = relays["balance"].reading_g()
            spin(2)
            rise_g = relays["balance"].reading_g() - before
            if rise_g > RISE_G:
                return told, f"the killed program's pump runs on: {rise_g:.1f} g in 2 s", True
            return told, None, not was_over
        if was_over:
            return told, None, True
        warned = PLUG in bytes(seen)
        noted = journal is None or (os.path.exists(journal) and PLUG in open(journal, "rb").read())
        wrong = getattr(relays["pump"], "sent_to_stranger", b"").find(b"FLOW ") >= 0
        if wrong:
            return told, "another bench's pump was set going", True
        if relays["pump"].running() and not (warned and noted):
            return told, f"the pump runs; told on the terminal: {warned}, in the journal: {noted}; " + \
                bytes(seen).decode(errors="replace")[-200:].strip().replace("\n", " | "), True
        return told, None, True
    finally:
        for child in children:
            if child.poll() is None:
                child.send_signal(signal.SIGCONT)
                child.kill()
            child.wait()
        for relay in relays.values():
            relay.close()
        shutil.rmtree(work, ignore_errors=True)


kinds, short, judged = collections.Counter(), 0, 0
for seed in range(first, first + runs):
    told, wrong, counted = one(seed)
    judged += counted
    if wrong:
        print("# " + told + ": " + wrong, flush=True)
        short += counted
print(f"judged {judged} short {short}")
