# For tests of what guards the pump: each case on a bench of its own, served at 20 times the speed of the wall clock, its
# pump and balance reached through this process. Arguments of the test: program, source folder, names of cases.
import os
import pty
import signal
import subprocess
import sys
import tempfile
import time
import tty

program, source = sys.argv[1:3]
# Keeps a processor busy, and ends with whoever began it, however that ends.
BUSY = "import os\nparent = os.getppid()\nwhile os.getppid() == parent: pass"
SPEED = "20"
GAUGE = ["--gauge", "demo-bucket-200-twin"]
PROFILES = ["generic-pump-ascii", "generic-balance-print", "generic-climate-ascii", "generic-tip-counter"]
children = []


def start(*words, **options):
    child = subprocess.Popen(list(words), **options)
    children.append(child)
    return child


class Bench:
    """A served bench; pump and balance are reached through this process."""

    def __init__(self, work):
        self.work = work
        self.file = os.path.join(work, "bench.toml")
        start(program, "serve", *GAUGE, "--out", self.file, "--speed", SPEED, stdout=subprocess.DEVNULL)
        wait(30, lambda: os.path.exists(self.file) and "[virtual" in open(self.file).read())
        time.sleep(0.2)
        text = open(self.file).read()
        # An instrument's second is a few milliseconds of a machine that is busy with other things.
        for name in PROFILES:
            lines = open(os.path.join(source, "templates/instruments", name + ".toml")).read().splitlines()
            own = os.path.join(work, name + ".toml")
            with open(own, "w") as out:
                for line in lines:
                    line = "answer_s = 20" if line.startswith("answer_s") else line
                    out.write(("silence_s = 60" if line.startswith("silence_s") else line) + "\n")
            text = text.replace(f'"{name}"', f'"{own}"')
        self.pairs, self.sent, self.weighed, self.frozen = {}, b"", b"", False
        open(self.file, "w").write(text)
        for role in ("pump", "balance"):
            self.relayed(role)

    def relay(self):
        for role, (master, fd, _) in self.pairs.items():
            for near, far in ((master, fd), (fd, master)):
                try:
                    data = os.read(near, 4096)
                except OSError:
                    continue
                if role == "pump" and near == master:
                    self.sent += data
                if role == "balance" and near == fd:
                    self.weighed = (self.weighed + data)[-400:]
                if role == "balance" and self.frozen:
                    continue
                try:
                    os.write(far, data)
                except OSError:
                    pass

    def flowing(self):
        return self.sent.rfind(b"FLOW ") > self.sent.rfind(b"STOP")

    def until(self, seconds, true, what):
        end = time.time() + seconds
        while not true():
            if time.time() >= end:
                raise AssertionError(what + said_so_far())
            self.relay()
            time.sleep(0.002)

    def spin(self, seconds):
        end = time.time() + seconds
        while time.time() < end:
            self.relay()
            time.sleep(0.002)

    def relayed(self, role):
        """This instrument is reached through this process."""
        text = open(self.file).read()
        block = next(part for part in text.split("[[instrument]]") if f'role = "{role}"' in part)
        real = block.split('link = "pty ')[1].split('"')[0]
        fd = os.open(real, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        master, slave = pty.openpty()
        tty.setraw(fd)
        tty.setraw(slave)
        os.set_blocking(master, False)
        self.pairs[role] = (master, fd, slave)
        os.chmod(os.ttyname(slave), 0o666)
        open(self.file, "w").write(text.replace(f'"pty {real}"', f'"pty {os.ttyname(slave)}"'))

    def mute(self, role):
        """From now on nobody hears or answers what is said to it."""
        kept = self.pairs[role]
        self.pairs[role] = (os.open("/dev/null", os.O_RDWR), *kept[1:])
        return kept[0]

    def on_cable(self, role):
        """Its link leads to its port by a name that can be given to another port: the cable."""
        cable, port = os.path.join(self.work, "cable"), os.ttyname(self.pairs[role][2])
        text = open(self.file).read()
        open(self.file, "w").write(text.replace(port, cable))
        os.symlink(port, cable)
        return cable

    def plugged_over(self, role, cable, name=None):
        """The cable leads from now on to somebody else's pump."""
        os.remove(cable)
        os.close(self.mute(role))
        master, slave = pty.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        os.symlink(os.ttyname(slave), cable)
        return Stranger(master, name)

    def calibrate(self, out, plan="three-point-check", **options):
        return start(program, "calibrate", "--bench", self.file, *GAUGE, "--plan", plan, "--speed", SPEED, "--out", out,
                     **({"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT} | options))


class Stranger:
    """Somebody else's pump at the other end: it says who it is, if it has a name, and takes every command."""

    def __init__(self, master, name=None):
        self.master, self.name, self.heard = master, name, b""

    def serve(self):
        try:
            data = os.read(self.master, 4096)
        except OSError:
            return
        self.heard += data
        for word in data.split(b"\r"):
            if word:
                asked = word == b"ID?" and self.name is not None
                os.write(self.master, b"ID " + self.name + b"\r\n" if asked else b"OK " + word + b"\r\n")


class Screen:
    """A terminal, and what stands on it."""

    def __init__(self):
        self.master, self.terminal = pty.openpty()
        os.set_blocking(self.master, False)
        self.said = b""

    def read(self):
        try:
            self.said += os.read(self.master, 65536)
        except OSError:
            pass
        return self.said.decode(errors="replace")

    def hang(self):
        # As after Ctrl-S: it takes nothing any more.
        os.set_blocking(self.terminal, False)
        for _ in range(5):
            try:
                while True:
                    os.write(self.terminal, b"x")
            except BlockingIOError:
                time.sleep(0.01)
        os.set_blocking(self.terminal, True)


def wait(seconds, true):
    end = time.time() + seconds
    while not true():
        assert time.time() < end
        time.sleep(0.02)


def asleep(child):
    return open(f"/proc/{child.pid}/stat").read().rsplit(")", 1)[1].split()[0] == "T"


def said_so_far():
    said = ""
    for child in children:
        if child.stdout:
            os.set_blocking(child.stdout.fileno(), False)
            said += " | " + (child.stdout.read() or b"").decode(errors="replace")[-400:]
    return said


def words_of(child):
    os.set_blocking(child.stdout.fileno(), True)
    return child.stdout.read().decode()


def journal_of(out):
    path = os.path.join(out, "journal.twj")
    return open(path).read() if os.path.exists(path) else ""


def run_cases(cases):
    wanted = sys.argv[3:]
    for case in cases:
        if wanted and case.__name__ not in wanted:
            continue
        with tempfile.TemporaryDirectory(prefix="tipwright-guard-") as work:
            try:
                case(Bench(work))
                print("held:", case.__name__, flush=True)
            finally:
                for child in children:
                    if child.poll() is None:
                        child.send_signal(signal.SIGCONT)
                        child.kill()
                        child.wait()
                children.clear()
    print("all checks passed")
