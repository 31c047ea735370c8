# Hostile instruments: on a served bench one instrument's answers become what no instrument should send, from the start or
# once water flows. The program must come to an end with a code of its own, its pump off (or the person sent to its plug),
# no hidden characters on the terminal, its memory bounded, its journal readable. Arguments: program, templates folder,
# number of instruments (0: all), first of them, how many at a time. Prints a line for each that did harm, then counts.
import multiprocessing
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

program, templates = sys.argv[1:3]
wanted, first, at_a_time = (int(word) for word in sys.argv[3:6])
os.environ["TIPWRIGHT_TEMPLATES"] = os.path.abspath(templates)
SPEED = "20"
PLUG = b"PULL THE PUMP'S PLUG"
HIDDEN = re.compile(rb"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]|\xe2\x80[\x8b-\x8f\xaa-\xae]|\xe2\x81[\xa0-\xaf]")
MEMORY_KIB = 400 * 1024
ATTACK_S, END_S = 6, 40
NUMBER = re.compile(rb"-?[0-9]+(\.[0-9]+)?")
OTHERS = [b"N     12.34 g\r\n", b"OK STOP\r\n", b"OK FLOW 99999.000\r\n", b"T 1 1 1 1\r\n", b"ERR fault\r\n", b"ID somebody\r\n",
          b"W 20.0 A 20.0 P 1013.2 H 50.0\r\n"]


def numbers(text):
    return lambda state, data: NUMBER.sub(text, data)


def each_line(change):
    def harm(state, data):
        state["rest"] += data
        *lines, state["rest"] = state["rest"].split(b"\n")
        return b"".join(change(line + b"\n") for line in lines)
    return harm


def drip(state, data):
    state["rest"] += data
    if time.time() < state.get("next", 0) or not state["rest"]:
        return b""
    state["next"] = time.time() + 0.05
    state["rest"], out = state["rest"][1:][-4096:], state["rest"][:1]
    return out


def once(text):
    def harm(state, data):
        return data if state.setdefault("given", 0) >= len(text) else text[state["given"]:state["given"] + 2048]
    return harm


KINDS = {
    "flood of bytes": lambda state, data: state["dice"].randbytes(4096),
    "flood of lines": lambda state, data: state["dice"].choice(OTHERS) * 100,
    "endless line": lambda state, data: b"A" * 4096,
    "a line of 1 MiB": once(b"9" * (1 << 20) + b"\r\n"),
    "NUL between bytes": lambda state, data: b"\0".join(data[i:i + 1] for i in range(len(data))),
    "nan": numbers(b"nan"),
    "inf": numbers(b"-inf"),
    "huge numbers": numbers(b"9" * 400),
    "exponents": numbers(b"1e308"),
    "wrong numbers": lambda state, data: NUMBER.sub(lambda match: b"%d" % state["dice"].randrange(-10**6, 10**6), data),
    "drip": drip,
    "lines cut in half": each_line(lambda line: line[:len(line) // 2] + b"\r\n"),
    "lines twice": each_line(lambda line: line * 2),
    "escapes": each_line(lambda line: b"\x1b[2J\x1b]0;gone\x07\xe2\x80\xae\x9b31m" + line),
    "others' words": lambda state, data: state["dice"].choice(OTHERS) if data else b"",
    "echo": None,  # of every command, before the answer
    "silence": lambda state, data: b"",
    "opens and closes": None,
}
ROLES = ["pump", "balance", "counter", "climate"]
CASES = [(kind, role, when) for kind in KINDS for role in ROLES for when in ("from the start", "once water flows")]


class Instrument:
    def __init__(self, real, role, folder):
        self.real = os.open(real, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self.real)
        self.path, self.role, self.sent = os.path.join(folder, "link-" + role), role, b""
        self.kind, self.state, self.waiting, self.moved = None, {"rest": b"", "dice": random.Random(role)}, b"", 0
        self.held = []
        self.open()

    def open(self):
        self.master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        os.set_blocking(self.master, False)
        if os.path.lexists(self.path):
            os.unlink(self.path)
        os.symlink(os.ttyname(self.slave), self.path)

    def step(self):
        if self.kind == "opens and closes" and time.time() > self.moved + 0.3:
            self.moved = time.time()
            os.close(self.master)
            # Held to the end: the program has locked its number, which must not be given to somebody else's run.
            self.held.append(self.slave)
            self.open()
        data = self.read(self.master)
        if data:
            self.sent += data
            os.write(self.real, data)
            if self.kind == "echo":
                self.waiting += data
        data = self.read(self.real)
        harm = KINDS.get(self.kind)
        if harm is not None and len(self.waiting) < 16384:
            data = harm(self.state, data)
        elif harm is not None:
            data = b""
        self.waiting = (self.waiting + data)[-65536:]
        try:
            count = os.write(self.master, self.waiting[:2048]) if self.waiting else 0
            self.waiting = self.waiting[count:]
            self.state["given"] = self.state.get("given", 0) + count
        except OSError:
            pass

    @staticmethod
    def read(fd):
        try:
            return os.read(fd, 4096)
        except OSError:
            return b""

    def flowing(self):
        return self.sent.rfind(b"FLOW ") > self.sent.rfind(b"STOP")

    def close(self):
        for fd in (self.real, self.master, self.slave, *self.held):
            os.close(fd)


def one(kind, role, when):
    work = tempfile.mkdtemp(prefix="tipwright-hostile-")
    instruments, run = {}, None
    server = None
    try:
        bench = os.path.join(work, "bench.toml")
        server = subprocess.Popen([program, "serve", "--gauge", "demo-bucket-200-twin", "--out", bench, "--speed", SPEED],
                                  stdout=subprocess.DEVNULL)
        end = time.time() + 30
        while time.time() < end and not (os.path.exists(bench) and os.path.getsize(bench) > 0):
            time.sleep(0.02)
        time.sleep(0.2)
        text = open(bench).read()
        for name in ("generic-pump-ascii", "generic-balance-print", "generic-climate-ascii", "generic-tip-counter"):
            own = os.path.join(work, name + ".toml")
            with open(own, "w") as out:
                for line in open(os.path.join(templates, "instruments", name + ".toml")).read().splitlines():
                    line = "answer_s = 6" if line.startswith("answer_s") else line
                    out.write(("silence_s = 20" if line.startswith("silence_s") else line) + "\n")
            text = text.replace(f'"{name}"', f'"{own}"')
        for one_role in ROLES:
            block = next(part for part in text.split("[[instrument]]") if f'role = "{one_role}"' in part)
            real = block.split('link = "pty ')[1].split('"')[0]
            instruments[one_role] = Instrument(real, one_role, work)
            text = text.replace(f'"pty {real}"', f'"pty {instruments[one_role].path}"')
        open(bench, "w").write(text)
        if when == "from the start":
            instruments[role].kind = kind
        out, said_file = os.path.join(work, "out"), os.path.join(work, "said")
        with open(said_file, "wb") as said_to:
            run = subprocess.Popen([program, "calibrate", "--bench", bench, "--gauge", "demo-bucket-200-twin", "--plan",
                                    "three-point-check", "--speed", SPEED, "--out", out], stdin=subprocess.DEVNULL,
                                   stdout=said_to, stderr=subprocess.STDOUT)
        status, usage, since, asked = None, None, time.time(), 0
        while status is None:
            for instrument in instruments.values():
                instrument.step()
            if when == "once water flows" and instruments["pump"].flowing() and instruments[role].kind is None:
                instruments[role].kind, since = kind, time.time()
            now = time.time()
            limit = ATTACK_S if instruments[role].kind else 30
            if asked < 2 and now > since + limit + 5 * asked:
                run.send_signal(signal.SIGINT)
                asked += 1
            if now > since + limit + END_S:
                return "does not end"
            pid, got, used = os.wait4(run.pid, os.WNOHANG)
            if pid:
                status, usage = got, used
                run.returncode = os.waitstatus_to_exitcode(got)
            time.sleep(0.002)
        for _ in range(100):
            for instrument in instruments.values():
                instrument.step()
            time.sleep(0.001)
        said = open(said_file, "rb").read()
        # Before its water and after it, Ctrl-C is what it is to every program.
        by_hand = run.returncode == -signal.SIGINT and asked > 0
        if run.returncode not in (0, 2, 3, 4, 130) and not by_hand:
            return f"exit code {run.returncode}: {said[-300:]}"
        if instruments["pump"].flowing() and PLUG not in said:
            return f"the pump runs: {said[-300:]}"
        if hidden := HIDDEN.search(said):
            return f"hidden characters are shown: {said[max(0, hidden.start() - 60):hidden.end() + 20]}"
        if usage.ru_maxrss > MEMORY_KIB:
            return f"it took {usage.ru_maxrss // 1024} MiB"
        journal = os.path.join(out, "journal.twj")
        if os.path.exists(journal):
            code = subprocess.run([program, "evaluate", journal, "--out", os.path.join(work, "again")],
                                  capture_output=True).returncode
            if code not in (0, 2, 3, 4):
                return f"its journal cannot be evaluated: exit code {code}"
        return None
    finally:
        for child in (run, server):
            if child is not None and child.returncode is None:
                child.kill()
                child.wait()
        for instrument in instruments.values():
            instrument.close()
        shutil.rmtree(work, ignore_errors=True)


# Spread, so that a share has something of everything.
random.Random(7).shuffle(CASES)
chosen = (CASES[first:] + CASES[:first])[:wanted or len(CASES)]


def tried(case):
    try:
        return case, one(*case), True
    except Exception as error:
        return case, f"the judge failed: {error!r}", False


def main():
    judged, harm = 0, 0
    with multiprocessing.Pool(at_a_time) as pool:
        for case, wrong, counted in pool.imap_unordered(tried, chosen):
            judged += counted
            if wrong:
                harm += counted
                print("# " + ("" if counted else "not judged: ") + ", ".join(case) + ": " + wrong, flush=True)
    print(f"judged {judged} short {harm}")


main()
