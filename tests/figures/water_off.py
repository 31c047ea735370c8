# The campaign water_off: commands that move water on served benches, stopped by every cause at random; two seconds later
# the pump must stand, or the person must have been sent to its plug on the terminal and in the journal; where the
# display takes nothing, on standard error, which a person's terminal shows as well. What a killed program (SIGKILL)
# promises is less: a pump with a time limit of its own stops by that, which the served balance must show.
# balance-check lets no water flow: it must stop what was left running, and start nothing.
# A climate sensor that freezes stops nothing by itself: there is a signal as well, in a run at the moment the run waits for it.
# A run is judged when water flowed before its cause, when the judge itself was not held up by the machine, and when no
# thread of the program waited for a processor for half of the time: what gets none can stop nothing.
# Arguments: program, templates folder, number of runs, first seed, how many at a time. Prints a line for each run that
# falls short or was not judged, then counts.
import collections
import multiprocessing
import os
import pty
import random
import re
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tty

program, templates = sys.argv[1:3]
os.environ["TIPWRIGHT_TEMPLATES"] = os.path.abspath(templates)
runs, first, at_a_time = (int(word) for word in sys.argv[3:6])
SPEED = "20"
# Keeps a processor busy, and ends with whoever began it, however that ends.
BUSY = "import os\nparent = os.getppid()\nwhile os.getppid() == parent: pass"
CLIMATE_S = 60  # for which the climate sensor may owe an answer, in seconds of its bench; asked three times
OWN_LIMIT_S = 20  # of a served pump, in seconds of its bench
# Two seconds at this speed are 40 of the bench, in which a pump at 60 mL/min or more sends more than this; a tip or
# two that were on their way send less.
RISE_G = 20
PLUG = b"PULL THE PUMP'S PLUG"
COMMANDS = ["calibrate", "lanes", "recover", "pump-calibration", "bench-check", "balance-check", "listen"]
SIGNALS = ["INT", "TERM", "HUP", "QUIT", "XFSZ", "USR1", "USR2", "TSTP", "STOP and CONT", "KILL", "PWR", "IO", "RTMIN",
           "SEGV", "ABRT"]
OUTPUTS = ["terminal", "closed at start", "closed by its reader", "full", "hung", "hung once water flows"]
LINKS = ["pump cut", "pump frozen", "pump swapped", "balance cut", "balance frozen", "balance swapped", "counter cut",
         "counter swapped", "climate frozen"]
# Later than this after the cause, the judge was held up itself and says nothing of the program.
JUDGED_S, HELD_UP_S, STARVED_S = 2, 2.3, 1


class Relay:
    """A pseudo-terminal between the program and one instrument of the served bench."""

    def __init__(self, real, role):
        self.role = role
        self.real = os.open(real, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self.real)
        self.sent = b""
        self.received = b""
        self.frozen = False
        self.unheard = b""  # what was said to it while it was frozen
        self.stranger = False
        self.held = []
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
        os.close(self.master)
        self.master = None
        # Held to the end: the program has locked its number, which must not be given to somebody else's run.
        self.held.append(self.slave)

    def swap(self):
        self.cut()
        self.stranger = True
        self.open()

    def ends(self):
        return [self.real] if self.master is None else [self.real, self.master]

    def step(self):
        try:
            data = os.read(self.master, 4096) if self.master is not None else b""
        except OSError:
            data = b""
        if data and self.stranger:
            for line in data.split(b"\r"):
                if line.startswith(b"ID?"):
                    os.write(self.master, b"ID SOMEBODY ELSES\r\n")
            self.sent_to_stranger = getattr(self, "sent_to_stranger", b"") + data
        elif data and self.frozen:
            self.unheard += data
        elif data:
            self.sent += data
            os.write(self.real, data)
        try:
            data = os.read(self.real, 4096)
        except OSError:
            data = b""
        self.received = (self.received + data)[-4096:]
        # Another bench's pump says nothing by itself; its balance and counter do.
        silent = self.frozen or (self.stranger and self.role == "pump")
        if data and self.master is not None and not silent:
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
        for fd in {self.real, self.slave, self.master, *self.held} - {None}:
            os.close(fd)
        if os.path.lexists(self.path):
            os.unlink(self.path)


def step(relays, readers, seen, wait_s=0.02):
    ends = [fd for relay in relays.values() for fd in relay.ends()]
    select.select(ends + readers, [], [], wait_s)
    for relay in relays.values():
        relay.step()
    for fd in list(readers):
        try:
            read = os.read(fd, 65536)
        except BlockingIOError:
            continue
        except OSError:
            read = b""
        seen.extend(read)
        if not read:
            readers.remove(fd)


def patient(work, bench, own_limit, answer_s):
    text = open(bench).read()
    if own_limit:
        text = text.replace('"generic-pump-ascii"', '"generic-pump-ascii-timeout"')
    for name in ("generic-pump-ascii", "generic-pump-ascii-timeout", "generic-balance-print", "generic-climate-ascii",
                 "generic-tip-counter"):
        lines = open(os.path.join(templates, "instruments", name + ".toml")).read().splitlines()
        out = os.path.join(work, name + ".toml")
        with open(out, "w") as file:
            for line in lines:
                if line.startswith("answer_s"):
                    line = f"answer_s = {CLIMATE_S if 'climate' in name else answer_s}"
                if line.startswith("silence_s"):
                    line = "silence_s = 20"
                if line.startswith("own_timeout_s"):
                    line = f"own_timeout_s = {OWN_LIMIT_S}"
                file.write(line + "\n")
        text = text.replace('"%s"' % name, '"%s"' % out)
    return text


def waits_s(pid):
    """How long each thread of a process has waited for a processor (proc(5), schedstat)."""
    waits = {}
    try:
        for thread in os.listdir(f"/proc/{pid}/task"):
            waits[thread] = float(open(f"/proc/{pid}/task/{thread}/schedstat").read().split()[1]) / 1e9
    except OSError:
        pass
    return waits


def one(seed):
    dice = random.Random(seed)
    command = dice.choice(COMMANDS)
    link = dice.choice(LINKS) if dice.random() < 0.5 else None
    if command == "listen" and link:
        link = "pump " + link.split()[1]  # the only link it has
    sign = dice.choice(SIGNALS) if link in (None, "climate frozen") or dice.random() < 0.2 else None
    output = dice.choice(OUTPUTS)
    busy = dice.random() < 0.5
    told = f"seed {seed}: {command}, output {output}, link {link}, signal {sign}, {'busy' if busy else 'idle'}"
    work = tempfile.mkdtemp(prefix="tipwright-water-")
    relays, children, readers, stdout = {}, [], [], None
    try:
        bench = os.path.join(work, "bench.toml")
        server = subprocess.Popen([program, "serve", "--gauge", "demo-bucket-200-twin", "--out", bench, "--speed", SPEED],
                                  stdout=subprocess.DEVNULL)
        children.append(server)
        end = time.time() + 30
        while time.time() < end and not (os.path.exists(bench) and os.path.getsize(bench) > 0):
            if server.poll() is not None:
                return told, "no bench is served", False
            time.sleep(0.02)
        time.sleep(0.1)
        text = patient(work, bench, sign == "KILL", 0.5 if command == "listen" else 6)
        for role in ("pump", "balance", "counter", "climate"):
            block = next(b for b in text.split("[[instrument]]") if f'role = "{role}"' in b)
            real = block.split('link = "pty ')[1].split('"')[0]
            relays[role] = Relay(real, role)
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
            line = [program, "pump-calibration", "--bench", bench, *gauge, *fast, "--flows", "100", "--longest", "3000",
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
                step(relays, [], None)
            start.kill()
            start.wait()
            relays["pump"].sent = b""
            line = [program, "recover", out, "--resume", *fast]
        seen = bytearray()
        if output == "full":
            stdout = os.open("/dev/full", os.O_WRONLY)
        elif output == "closed by its reader":
            reader, stdout = os.pipe()
            readers.append(reader)
        elif output in ("terminal", "hung", "hung once water flows"):
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
            stdout = None
        read = [*readers, error_reader]
        readers.append(error_reader)

        def hang():
            read.remove(master)
            # The system goes on making room for a while, and would take some lines more that nobody sees.
            os.set_blocking(stdout, False)
            quiet = 0
            while quiet < 5:
                try:
                    os.write(stdout, b"x")
                    quiet = 0
                except BlockingIOError:
                    quiet += 1
                    time.sleep(0.005)
            os.set_blocking(stdout, True)

        if output == "hung":
            hang()

        def spin(seconds, until=lambda: False):
            end = time.time() + seconds
            while time.time() < end and not until():
                step(relays, read, seen)

        if busy:
            children.append(subprocess.Popen([sys.executable, "-c", BUSY]))
        if command == "balance-check":
            spin(60, lambda: not relays["pump"].running() or run.poll() is not None)
            if relays["pump"].running():
                return told, "the pump was left running: " + seen.decode(errors="replace")[-200:].strip(), True
        else:
            spin(60, lambda: relays["pump"].running() or run.poll() is not None)
        if command != "balance-check" and not relays["pump"].running():
            return told, "no water flowed: " + seen.decode(errors="replace")[-200:].strip().replace("\n", " | "), False
        if link == "climate frozen" and command in ("calibrate", "lanes", "recover"):
            relays["climate"].frozen = True
            spin(60, lambda: relays["climate"].unheard or run.poll() is not None)
            if not relays["climate"].unheard:
                return told, "the climate sensor was not asked", False
        spin(dice.uniform(0, 1.5))
        was_over = command != "balance-check" and not relays["pump"].running()
        if output == "hung once water flows":
            hang()
        since, waited = time.time(), waits_s(run.pid)
        if link:
            role, harm = link.split()
            if harm == "cut":
                relays[role].cut()
            elif harm == "frozen":
                relays[role].frozen = True
            else:
                relays[role].swap()
        if sign == "STOP and CONT":
            os.kill(run.pid, signal.SIGSTOP)
            spin(3)
            os.kill(run.pid, signal.SIGCONT)
            since, waited = time.time(), waits_s(run.pid)
        elif sign:
            os.kill(run.pid, getattr(signal, "SIG" + sign))
        spin(JUDGED_S)
        # What was sent by now and stands between.
        for _ in range(3):
            step(relays, read, seen, 0)
        held_up_s = time.time() - since
        if held_up_s > HELD_UP_S:
            return told, f"the judge was held up: {held_up_s:.1f} s", False
        starved_s = max((s - waited.get(thread, 0) for thread, s in waits_s(run.pid).items()), default=0)
        if starved_s > STARVED_S:
            return told, f"the program waited {starved_s:.1f} s for a processor", False
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
        for fd in [*readers, stdout]:
            if fd is not None:
                os.close(fd)
        shutil.rmtree(work, ignore_errors=True)


def tried(seed):
    try:
        return one(seed)
    except Exception as error:
        return f"seed {seed}: unknown,", f"the judge failed: {error!r}", False


def main():
    done, judged, short, kinds = 0, 0, 0, collections.Counter()
    with multiprocessing.Pool(at_a_time) as pool:
        for told, wrong, counted in pool.imap_unordered(tried, range(first, first + runs)):
            done += 1
            judged += counted
            kinds[told.split(": ")[1].split(",")[0]] += counted
            if wrong:
                print("# " + ("" if counted else "not judged: ") + told + ": " + wrong, flush=True)
                short += counted
            if done % 50 == 0:
                print(f"# of {done}: {judged} judged, {short} short", flush=True)
    print("# judged: " + ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.items())))
    print(f"judged {judged} short {short}")


main()
