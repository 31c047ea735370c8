# Each case on a bench of its own: see tests/support/relayed_bench.py. Arguments: program, source folder.
import json
import os
import pty
import re
import resource
import shutil
import signal
import subprocess
import sys
import time
import tty

sys.path.insert(0, os.path.join(sys.argv[2], "tests/support"))
from relayed_bench import (BUSY, GAUGE, SPEED, Screen, Stranger, asleep, journal_of, program, run_cases, said_so_far,
                           start, wait, words_of)


def silent_balance(bench):
    # The last reading must not fill the vessel check for ever: at 150 mL/min it stops within 60 s of the bench, 3 s.
    run = start(program, "pump-calibration", "--bench", bench.file, *GAUGE, "--speed", SPEED, "--flows", "150", "--longest",
                "80000", "--target", "0.01", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(60, bench.flowing, "no water flowed")
    bench.spin(0.5)
    assert bench.flowing() and run.poll() is None, "it ended before its balance was cut off"
    bench.frozen = True
    since = time.time()
    bench.until(30, lambda: not bench.flowing(), "the pump runs on without a balance")
    took_s = (time.time() - since) * float(SPEED)
    bench.until(30, lambda: run.poll() is not None, "it did not end")
    said = words_of(run)
    assert run.returncode == 3 and "balance" in said, (run.returncode, said)
    # Its own limit, and what a busy machine takes.
    assert took_s < 60 + 60, f"the pump ran on for {took_s} s of the bench"


def other_users(bench):
    # Whoever comes second is refused, sends nothing, and changes nothing, be it another user.
    out = os.path.join(bench.work, "first")
    run = bench.calibrate(out)
    bench.until(60, bench.flowing, "no water flowed")
    before = bench.sent
    other_user = None
    if os.geteuid() == 0:
        other_user = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups", "env", "HOME=" + bench.work]
    os.chmod(bench.work, 0o777)
    seconds = [["calibrate", "--plan", "three-point-check", "--out", os.path.join(bench.work, "second")],
               ["pump-calibration"], ["bench-check"]]
    for user in [[], other_user]:
        if user is None:
            continue
        for words in seconds:
            got = start(*user, program, words[0], "--bench", bench.file, *GAUGE, "--speed", SPEED, *words[1:],
                        stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
            bench.until(30, lambda: got.poll() is not None, "the second program goes on: " + words[0])
            said = words_of(got)
            assert got.returncode == 3 and "in use by another program" in said, (user, words[0], got.returncode, said)
        link = open(bench.file).read().split("pty ")[1].split('"')[0]
        got = start(*user, program, "listen", "--link", "pty " + os.ttyname(bench.pairs["pump"][2]), "--send", "FLOW 60\\r",
                    "--stop", "STOP\\r", "--for", "1", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        bench.until(30, lambda: got.poll() is not None, "listen goes on beside a run")
        assert "in use by another program" in words_of(got), link
    assert bench.flowing() and b"FLOW 60" not in bench.sent[len(before):], "the second program reached the pump"
    # Closing or resuming it from beside does nothing to its journal.
    kept = journal_of(out)
    for how in ("--close", "--resume"):
        got = start(program, "recover", out, how, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        bench.until(30, lambda: got.poll() is not None, "recover goes on beside a run")
        said = words_of(got)
        assert got.returncode == 2 and "its run is going on" in said, (how, got.returncode, said)
    assert journal_of(out).startswith(kept) and bench.flowing() and run.poll() is None, "recover harmed the run"
    run.send_signal(signal.SIGINT)
    bench.until(30, lambda: run.poll() is not None, "it did not end")
    journal = journal_of(out)
    assert journal.count(" close ") == 1 and journal.startswith(kept) and not bench.flowing(), journal[-300:]


def suspended(bench):
    # Ctrl-Z: the pump stands before the process sleeps; the terminal and the journal say so; the end is plain.
    out = os.path.join(bench.work, "suspended")
    screen = Screen()
    run = start(program, "calibrate", "--bench", bench.file, *GAUGE, "--plan", "three-point-check", "--speed", SPEED, "--out",
                out, stdout=screen.terminal, stderr=subprocess.STDOUT, process_group=0)
    bench.until(60, bench.flowing, "no water flowed")
    run.send_signal(signal.SIGTSTP)

    bench.until(60, lambda: screen.read() and asleep(run), "it does not sleep")
    said = screen.read()
    assert not bench.flowing(), "it sleeps with its pump running"
    assert "Suspended (Ctrl-Z)" in said, said
    assert "Ctrl-Z" in journal_of(out).splitlines()[-1], journal_of(out)[-300:]
    sent = bench.sent
    run.send_signal(signal.SIGCONT)
    bench.until(30, lambda: screen.read() and run.poll() is not None, "it did not end")
    said = screen.read()
    assert run.returncode == 130 and "suspended" in said, (run.returncode, said)
    assert bench.sent == sent, "it sent more to the pump after it woke"


def gaps(bench):
    # A process that stood still says so, however busy the machine is: shorter than the watchdog's limit as a remark,
    # longer as the run's end.
    out = os.path.join(bench.work, "gaps")
    text = open(bench.file).read()
    assert "hang_s = 2 " in text
    open(bench.file, "w").write(text.replace("hang_s = 2 ", "hang_s = 6 "))
    busy = [start(sys.executable, "-c", BUSY) for _ in range(3)]
    run = bench.calibrate(out)
    bench.until(60, bench.flowing, "no water flowed")
    for k in range(1, 5):
        # Longer than half of the limit.
        run.send_signal(signal.SIGSTOP)
        bench.spin(3.3)
        run.send_signal(signal.SIGCONT)
        bench.spin(1)
        told = journal_of(out).count("stood still for")
        assert told >= k, f"{told} of {k} gaps are in the journal, exit code {run.poll()}"
        if run.poll() is not None:
            break
    run.send_signal(signal.SIGSTOP)
    bench.spin(7)
    run.send_signal(signal.SIGCONT)
    bench.until(60, lambda: run.poll() is not None, "it did not end after it stood still")
    for child in busy:
        child.kill()
    assert run.returncode == 3 and not bench.flowing(), (run.returncode, words_of(run))


def cut_off(bench):
    # However long its profile gives the pump to answer: once its link is gone nobody waits so long with the word to pull
    # its plug.
    profile = os.path.join(bench.work, "generic-pump-ascii.toml")
    text = open(profile).read()
    open(profile, "w").write(text.replace("answer_s = 20", "answer_s = 60"))
    out = os.path.join(bench.work, "cut")
    run = bench.calibrate(out)
    bench.until(60, bench.flowing, "no water flowed")
    nothing = os.open("/dev/null", os.O_RDWR)
    os.dup2(nothing, bench.pairs["pump"][0])
    since = time.time()
    os.set_blocking(run.stdout.fileno(), False)
    said = b""
    while b"PULL THE PUMP'S PLUG" not in said:
        assert time.time() < since + 2.5, said
        bench.relay()
        said += run.stdout.read() or b""
        time.sleep(0.002)
    assert "PULL THE PUMP'S PLUG" in journal_of(out)


def another_system(bench, name, code):
    # The environment in which one call of the system answers as another system's would; None where nothing compiles it.
    shim = os.path.join(bench.work, name)
    open(shim + ".c", "w").write(code)
    if subprocess.run(["cc", "-shared", "-fPIC", "-o", shim + ".so", shim + ".c"]).returncode != 0:
        print(f"no C compiler: {name} is not looked at")
        return None
    return dict(os.environ, LD_PRELOAD=shim + ".so")


def no_locks(bench):
    # A file system without locks, as some of networks are: flock fails there.
    system = another_system(bench, "no_locks", "#include <errno.h>\nint flock(int d, int how) { (void)d; (void)how; "
                            "errno = ENOLCK; return -1; }\n")
    if not system:
        return
    out = os.path.join(bench.work, "locks")
    run = bench.calibrate(out, env=system)
    bench.until(30, lambda: run.poll() is not None, "it goes on without locks")
    said = words_of(run)
    assert run.returncode != 0 and "--without-locks" in said and b"FLOW" not in bench.sent, (run.returncode, said)
    assert not os.path.exists(os.path.join(out, "journal.twj")), "an empty journal stands in the way of the next attempt"
    run = start(program, "--without-locks", "calibrate", "--bench", bench.file, *GAUGE, "--plan", "three-point-check",
                "--speed", SPEED, "--out", out + "2", stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=system)
    bench.until(60, bench.flowing, "no water though somebody said --without-locks")
    run.send_signal(signal.SIGINT)
    bench.until(30, lambda: run.poll() is not None and not bench.flowing(), "it did not end")


def kept_signal(bench):
    # A system that keeps a signal for itself, as a debugger does with the last real-time one: the run needs none of it,
    # and every other signal still stops the pump.
    system = another_system(bench, "kept_signal", """#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <signal.h>
int sigaction(int number, const struct sigaction* wanted, struct sigaction* before) {
    int (*own)(int, const struct sigaction*, struct sigaction*) = dlsym(RTLD_NEXT, "sigaction");
    if (number == SIGRTMAX && wanted) { errno = EINVAL; return -1; }
    return own(number, wanted, before);
}
""")
    if not system:
        return
    run = bench.calibrate(os.path.join(bench.work, "kept"), env=system)
    bench.until(60, lambda: bench.flowing() or run.poll() is not None, "no water flowed")
    assert run.poll() is None, (run.returncode, words_of(run))
    run.send_signal(signal.SIGRTMAX - 1)
    bench.until(30, lambda: run.poll() is not None and not bench.flowing(), "it did not end")
    assert run.returncode == 130, (run.returncode, words_of(run))


def no_memory(bench):
    # The system gives no memory for two seconds, or for good: the pump hears its stop at once, the person is sent to
    # its plug on the terminal and in the journal, and the program ends; nothing half alive is left behind.
    flag = os.path.join(bench.work, "flag")
    system = another_system(bench, "no_memory", """#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/mman.h>
extern void* __libc_malloc(size_t);
extern void* __libc_memalign(size_t, size_t);
static volatile char* flag;
__attribute__((constructor)) static void begin(void) {
    int file = open(getenv("NO_MEMORY"), O_RDONLY | O_CLOEXEC);
    if (file >= 0) flag = mmap(0, 1, PROT_READ, MAP_SHARED, file, 0);
}
static int refused(void) { if (flag && *flag == '1') { errno = ENOMEM; return 1; } return 0; }
void* malloc(size_t size) { return refused() ? 0 : __libc_malloc(size); }
void* aligned_alloc(size_t align, size_t size) { return refused() ? 0 : __libc_memalign(align, size); }
""")
    if not system:
        return
    for gone_s in (2, 60):
        open(flag, "w").write("0")
        out = os.path.join(bench.work, f"gone{gone_s}")
        run = bench.calibrate(out, env=dict(system, NO_MEMORY=flag))
        bench.until(60, lambda: bench.flowing() or run.poll() is not None, "no water flowed")
        bench.spin(0.3)
        began = time.time()
        with open(flag, "r+") as file:
            file.write("1")
        bench.until(2, lambda: not bench.flowing(), f"water flows on though memory is gone for {gone_s} s")
        bench.until(gone_s, lambda: run.poll() is not None or time.time() - began > gone_s - 1, "")
        open(flag, "r+").write("0")
        bench.until(20, lambda: run.poll() is not None, "the program does not end")
        said = words_of(run)
        assert run.returncode == 3 and "PULL THE PUMP'S PLUG" in said and "no memory" in said, (run.returncode, said[-600:])
        assert "PULL THE PUMP'S PLUG" in journal_of(out)


def disk_stands(bench):
    # The journal's disk takes nothing for a while: the watchdog stops the pump, and says so though the run cannot; the
    # balance is not blamed for it.
    flag = os.path.join(bench.work, "flag")
    system = another_system(bench, "disk_stands", """#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>
int fdatasync(int file) {
    char link[64], path[4096];
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t count = readlink(link, path, sizeof path - 1);
    path[count > 0 ? count : 0] = 0;
    while (strstr(path, ".twj") && access(getenv("DISK_STANDS"), F_OK) == 0) usleep(10000);
    return (int)syscall(SYS_fdatasync, file);
}
""")
    if not system:
        return
    out = os.path.join(bench.work, "stands")
    screen = Screen()
    run = bench.calibrate(out, env=dict(system, DISK_STANDS=flag), stdin=subprocess.DEVNULL, stdout=screen.terminal,
                          stderr=screen.terminal)
    bench.until(60, lambda: screen.read() and bench.flowing(), "no water flowed")
    open(flag, "w").close()
    bench.until(30, lambda: not bench.flowing(), "the watchdog did not stop the pump")
    bench.until(2, lambda: "PULL THE PUMP'S PLUG" in screen.read(), "nobody was told")
    bench.spin(1)
    os.remove(flag)
    bench.until(60, lambda: screen.read() and run.poll() is not None, "it did not end")
    assert run.returncode == 3 and "its watchdog stopped the pumps" in journal_of(out), (run.returncode, screen.read()[-900:])
    assert "gave no reading" not in screen.read() + journal_of(out) and "less than the watchdog" not in journal_of(out)


def crash_unheard(bench):
    # A crash while the terminal takes nothing: the pump is stopped, the journal has the words, and the process ends.
    out = os.path.join(bench.work, "unheard")
    screen = Screen()
    run = bench.calibrate(out, stdin=subprocess.DEVNULL, stdout=screen.terminal, stderr=screen.terminal)
    bench.until(60, lambda: screen.read() and bench.flowing(), "no water flowed")
    screen.hang()
    run.send_signal(signal.SIGSEGV)
    bench.until(5, lambda: not bench.flowing(), "the pump runs on")
    bench.until(10, lambda: run.poll() is not None, "the process does not end")
    assert run.returncode == -signal.SIGSEGV and "tipwright crashed" in journal_of(out), run.returncode


def sent_by_hand(bench):
    # listen --send to a pump: stopped first, and stopped at the end; what does not know the word to stop sends nothing.
    profile = os.path.join(bench.work, "generic-pump-ascii.toml")
    words = [program, "listen", "--link", "pty " + os.ttyname(bench.pairs["pump"][2]), "--send", "FLOW 60.000\\r"]
    run = start(*words, "--profile", profile, "--for", "2", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(30, bench.flowing, "nothing was sent")
    assert 0 <= bench.sent.find(b"STOP") < bench.sent.find(b"FLOW "), "the pump was not stopped first"
    bench.until(30, lambda: run.poll() is not None, "it did not end")
    said = words_of(run)
    assert run.returncode == 0 and not bench.flowing() and "told to stop" in said, (run.returncode, said)
    # A terminal that takes nothing (Ctrl-S) holds up neither what is sent nor the end.
    screen = Screen()
    screen_end = screen.terminal
    screen.hang()
    bench.sent = b""
    run = start(*words, "--profile", profile, "--for", "2", stdout=screen_end, stderr=subprocess.DEVNULL)
    bench.until(30, bench.flowing, "a terminal that takes nothing holds up what is sent")
    bench.until(30, lambda: run.poll() is not None, "a terminal that takes nothing holds up the end")
    assert run.returncode == 7 and not bench.flowing(), run.returncode
    wrong = os.path.join(bench.work, "wrong.toml")
    open(wrong, "w").write(open(profile).read().replace('send = "STOP"', 'send = "HALT"').replace("answer_s = 20",
                                                                                                  "answer_s = 1"))
    bench.sent = b""
    run = start(*words, "--profile", wrong, "--for", "5", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(30, lambda: run.poll() is not None, "it did not end")
    assert run.returncode == 3 and b"FLOW" not in bench.sent, (run.returncode, bench.sent, words_of(run))

    # Without a profile by the bytes that a person names; without them nothing is sent, unless it is said to be no pump.
    bench.sent = b""
    for role in [[], ["--learn", os.path.join(bench.work, "learned.toml")],
                 ["--learn", os.path.join(bench.work, "learned.toml"), "--role", "pump"]]:
        run = start(*words, *role, "--for", "1", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        bench.until(30, lambda: run.poll() is not None, "it did not end")
        said = words_of(run)
        assert run.returncode == 2 and "--no-pump" in said and not bench.sent, (run.returncode, said, bench.sent)
    bench.sent = b""
    run = start(*words, "--stop", "STOP\\r", "--for", "60", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(30, bench.flowing, "nothing was sent")
    run.send_signal(signal.SIGTERM)
    bench.until(30, lambda: run.poll() is not None, "it did not end")
    bench.until(10, lambda: not bench.flowing(), "the bytes of --stop were not sent")
    bench.sent = b""
    run = start(*words, "--no-pump", "--for", "1", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(30, lambda: run.poll() is not None, "it did not end")
    assert "pull its plug" in words_of(run) and bench.flowing()
    # Nor does the profile of a balance know it; and a profile that is learned knows nothing yet, however it ends.
    bench.sent = b""
    run = start(*words, "--profile", os.path.join(bench.work, "generic-balance-print.toml"), "--for", "2",
                stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(30, lambda: run.poll() is not None, "it did not end")
    assert "pull its plug" in words_of(run) and bench.flowing()
    bench.sent = b""
    run = start(program, "listen", "--role", "balance", "--learn", os.path.join(bench.work, "learned.toml"), "--mass-g", "100",
                *words[2:], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    run.stdin.write(b"\n")
    run.stdin.flush()
    bench.until(60, bench.flowing, "nothing was asked")
    run.send_signal(signal.SIGINT)
    bench.until(30, lambda: run.poll() is not None, "it did not end")
    said = words_of(run)
    assert run.returncode == 130 and "pull its plug" in said, (run.returncode, said)


def small_files(bench):
    # A shell that lets no file grow: one line, no death by a signal, before the water as after it.
    for bytes_ in (1000, 60000):
        bench.sent = b""
        out = os.path.join(bench.work, f"small-{bytes_}")
        run = bench.calibrate(out, preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (bytes_, bytes_)))
        bench.until(120, lambda: run.poll() is not None, "it did not end")
        said = words_of(run)
        assert run.returncode in (2, 3) and "ulimit -f" in said and not bench.flowing(), (run.returncode, said)


def signals(bench):
    # What is not sent every day: it ends the work, its pump first. A crash stops the pump too.
    for number, code in ((signal.SIGPWR, 130), (signal.SIGIO, 130), (signal.SIGRTMIN + 3, 130), (signal.SIGSEGV, -signal.SIGSEGV),
                         (signal.SIGABRT, -signal.SIGABRT)):
        bench.sent = b""
        out = os.path.join(bench.work, f"signal-{int(number)}")
        run = bench.calibrate(out)
        bench.until(60, bench.flowing, f"{number}: no water flowed")
        run.send_signal(number)
        bench.until(10, lambda: not bench.flowing(), f"{number}: the pump runs on")
        bench.until(30, lambda: run.poll() is not None, f"{number}: it did not end")
        said = words_of(run)
        assert run.returncode == code, (number, run.returncode, said)
        assert code > 0 or "PULL THE PUMP'S PLUG" in said, (number, said)
        assert code < 0 or "close" in journal_of(out).splitlines()[-1], journal_of(out)[-300:]
        if code < 0:  # its last words stand in the journal, which is whole for all that
            assert journal_of(out).rstrip().endswith("PULL THE PUMP'S PLUG."), journal_of(out)[-300:]
            closed = start(program, "recover", out, "--close", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
            bench.until(60, lambda: closed.poll() is not None, "it is not closed")
            said = words_of(closed)
            assert closed.returncode == 0 and "torn" in said, (closed.returncode, said)
            assert "PLUG" not in journal_of(out) and "close" in journal_of(out).splitlines()[-1], journal_of(out)[-300:]


def asked(bench):
    # A balance that cannot say who it is, whose cable was out: the run ends, and whoever sits at the terminal is asked
    # whether it is the bench's own. Enter alone leaves the run as it is; y goes on with it.
    profile = os.path.join(bench.work, "generic-balance-print.toml")
    before, rest = open(profile).read().split("[command.identify]")
    open(profile, "w").write(before + rest[rest.index("[command."):])
    cable = os.path.join(bench.work, "cable")

    def plug_in():
        master, slave = pty.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        if os.path.lexists(cable):
            os.remove(cable)
        os.symlink(os.ttyname(slave), cable)
        bench.pairs["balance"] = (master, bench.pairs["balance"][1], slave)

    def pull_out():
        # The slave stays open: the program has locked its number, which nobody else may get meanwhile.
        os.remove(cable)
        os.close(bench.pairs["balance"][0])
        bench.pairs["balance"] = (os.open("/dev/null", os.O_RDWR), *bench.pairs["balance"][1:])

    text = open(bench.file).read()
    open(bench.file, "w").write(text.replace(os.ttyname(bench.pairs["balance"][2]), cable))
    plug_in()
    for answer in (b"\n", b"y\n"):
        bench.sent = b""
        out = os.path.join(bench.work, "asked" + str(len(answer)))
        screen = Screen()
        run = bench.calibrate(out, stdin=screen.terminal, stdout=screen.terminal, stderr=screen.terminal)
        os.close(screen.terminal)
        look = screen.read

        if answer == b"y\n":
            bench.until(120, lambda: look() and "did=close step=1" in journal_of(out), "no step was measured")
        bench.until(60, lambda: look() and bench.flowing(), "no water flowed")
        os.write(screen.master, b"y\n")  # typed before anybody asked: no answer
        pull_out()
        bench.spin(0.2)
        plug_in()
        bench.until(120, lambda: "Go on with the run?" in look() or run.poll() is not None, "nobody was asked")
        assert run.poll() is None, look()
        bench.spin(0.5)
        assert run.poll() is None and not bench.flowing(), look()
        assert "cannot be told whether the same instrument answers" in look(), look()
        kept = journal_of(out)
        os.write(screen.master, answer)
        if answer == b"y\n":
            bench.until(60, lambda: look() and bench.flowing(), "it did not go on")
            run.send_signal(signal.SIGINT)
        bench.until(60, lambda: look() and run.poll() is not None, "it did not end")
        if answer == b"\n":
            assert run.returncode == 3 and journal_of(out) == kept, (run.returncode, look())
        else:
            assert run.returncode == 130 and journal_of(out).startswith(kept), (run.returncode, look()[-2000:])
            assert re.search(r" continue .*from_step=2", journal_of(out)[len(kept):]), journal_of(out)[-300:]
        assert not bench.flowing()
        os.close(screen.master)


PULL = "PULL THE PUMP'S PLUG NOW"


def silent_climate(bench):
    # While a run waits for the answer of an instrument that is silent, water flowing, Ctrl-C stops the pump at once and
    # ends the run as such.
    bench.relayed("climate")
    out = os.path.join(bench.work, "climate")
    run = bench.calibrate(out)
    bench.until(60, bench.flowing, "no water flowed")
    asked = bench.mute("climate")
    got = b""
    end = time.time() + 60
    while not got and time.time() < end and run.poll() is None:
        bench.relay()
        try:
            got = os.read(asked, 4096)
        except OSError:
            time.sleep(0.002)
    assert got and bench.flowing(), (got, run.poll(), said_so_far())
    run.send_signal(signal.SIGINT)
    since = time.time()
    bench.until(30, lambda: not bench.flowing(), "it waits for the climate sensor")
    # It would wait for three seconds, and by another profile for minutes.
    assert time.time() - since < 1.5, time.time() - since
    bench.until(60, lambda: run.poll() is not None, "it did not end")
    assert run.returncode == 130, (run.returncode, words_of(run))


def runs_on(bench):
    # A pump that answers the command to stop and runs on: the balance tells, and whoever stands there is told.
    told = bench.relay

    def lying():
        master, fd, _ = bench.pairs["pump"]
        try:
            data = os.read(master, 4096)
        except OSError:
            data = b""
        bench.sent += data
        if b"STOP" in data:
            os.write(master, b"OK STOP\r\n")
        data = data.replace(b"STOP\r", b"")
        if data:
            os.write(fd, data)
        told()

    for words in (["pump-calibration", "--flows", "60", "--longest", "2000", "--target", "0.01"],
                  ["bench-check", "--watch", "5", "--flow", "60", "--volume-mL", "400"],
                  ["calibrate", "--plan", "three-point-check", "--out", os.path.join(bench.work, "runs-on")]):
        bench.relay = told
        bench.sent = b""
        run = start(program, words[0], "--bench", bench.file, *GAUGE, "--speed", SPEED, *words[1:], stdout=subprocess.PIPE,
                    stderr=subprocess.STDOUT)
        bench.until(60, bench.flowing, "no water flowed")
        bench.spin(0.3)
        bench.relay = lying
        run.send_signal(signal.SIGINT)
        bench.until(60, lambda: run.poll() is not None, "it did not end")
        said = words_of(run)
        assert run.returncode == 3 and PULL in said, (words[0], run.returncode, said)
        assert words[0] != "calibrate" or PULL in journal_of(words[-1]), journal_of(words[-1])[-300:]
        os.write(bench.pairs["pump"][1], b"STOP\r")
        time.sleep(0.2)


def killed(bench, out):
    run = bench.calibrate(out)
    bench.until(60, bench.flowing, "no water flowed")
    bench.spin(0.4)
    run.kill()
    run.wait()
    bench.sent = b""


def unreached(bench):
    # recover of a run whose pump does not answer.
    out = os.path.join(bench.work, "unreached")
    killed(bench, out)
    profile = os.path.join(bench.work, "generic-pump-ascii.toml")
    text = open(profile).read()
    for name in ("-json", "-left", "-damaged"):
        shutil.copytree(out, out + name)
    ear = bench.mute("pump")

    def recover(*words, **options):
        return start(program, *words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **options)

    def told_to_stop():
        try:
            return b"STOP" in os.read(ear, 4096)
        except BlockingIOError:
            return False

    # Ctrl-C, then Ctrl-Z: it ends without having touched the journal, and says what remains to the person.
    for number in (signal.SIGINT, signal.SIGTSTP):
        before = journal_of(out)
        run = recover("recover", out, "--close", process_group=0)
        bench.until(20, told_to_stop, f"{number}: nobody told the pump to stop")
        run.send_signal(number)
        # All attempts to reach the pump take twelve seconds.
        if number == signal.SIGTSTP:
            bench.until(4, lambda: asleep(run), "it does not sleep")
            run.send_signal(signal.SIGCONT)
        bench.until(4, lambda: run.poll() is not None, f"{number}: it does not end")
        assert run.returncode == 130 and "pull its plug" in run.stderr.read().decode(), run.returncode
        assert journal_of(out) == before, number
    # The pump's second is to be a short one from here on.
    open(profile, "w").write(text.replace("answer_s = 20", "answer_s = 2"))
    run = recover("recover", out, "--close")
    bench.until(60, lambda: run.poll() is not None, "it did not end")
    said = words_of(run) + run.stderr.read().decode()
    assert run.returncode == 3 and PULL in said, (run.returncode, said)
    last, closing = journal_of(out).splitlines()[-2:]
    assert "PULL THE PUMP'S PLUG" in last and " close " in closing, (last, closing)
    run = recover("--json", "recover", out + "-json", "--close")
    bench.until(60, lambda: run.poll() is not None, "it did not end")
    said = json.loads(run.stdout.read())
    assert run.returncode == 3 and said["closed"] and not said["ok"] and "PLUG" in said["pump"], (run.returncode, said)
    run = recover("recover", out + "-left")
    bench.until(60, lambda: run.poll() is not None, "it did not end")
    assert run.returncode == 3 and "PLUG" in run.stdout.read().decode(), run.returncode
    # A journal that cannot be read tells nothing of the pump.
    path = os.path.join(out + "-damaged", "journal.twj")
    lines = open(path).readlines()
    lines[300] = lines[300].replace(" ", "  ", 1)
    open(path, "w").writelines(lines)
    run = recover("recover", out + "-damaged", "--close")
    assert run.wait(30) == 2
    assert "if its pump runs, pull its plug" in run.stderr.read().decode()


def another_pump(bench):
    # The cables of two benches changed places while the program was dead: the other bench's pump hears nothing but to
    # stop, and who it is.
    out = os.path.join(bench.work, "another")
    killed(bench, out)
    stranger = Stranger(bench.mute("pump"), b"SOMEBODY ELSES")
    for how in ("--resume", "--close"):
        run = start(program, "recover", out, how, *(["--speed", SPEED] if how == "--resume" else []),
                    stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        bench.until(30, lambda: stranger.serve() or run.poll() is not None, "it did not end: " + how)
        said = words_of(run)
        assert run.returncode == 3 and "SOMEBODY ELSES" in said and PULL in said, (how, run.returncode, said)
        assert set(stranger.heard.split(b"\r")) <= {b"STOP", b"ID?", b""}, stranger.heard
    assert "SOMEBODY ELSES" in journal_of(out).splitlines()[-2], journal_of(out)[-500:]


def cables_changed(bench):
    # The same while a run goes on: the question names what answered, and y sets nothing going there.
    cable = bench.on_cable("pump")
    screen = Screen()
    run = bench.calibrate(os.path.join(bench.work, "changed"), stdin=screen.terminal, stdout=screen.terminal,
                          stderr=screen.terminal)
    os.close(screen.terminal)
    bench.until(60, lambda: screen.read() and bench.flowing(), "no water flowed")
    stranger = bench.plugged_over("pump", cable, b"SOMEBODY ELSES")
    bench.until(90, lambda: stranger.serve() or "Go on with the run?" in screen.read() or run.poll() is not None, "nobody was asked")
    assert 'The pump: another instrument answers on its link: "SOMEBODY ELSES"' in screen.read(), screen.read()[-900:]
    os.write(screen.master, b"y\n")
    bench.until(60, lambda: stranger.serve() or screen.read() and run.poll() is not None, "it did not end")
    assert run.returncode == 3, (run.returncode, screen.read()[-900:])
    assert set(stranger.heard.split(b"\r")) <= {b"STOP", b"ID?", b""}, stranger.heard


def edited(bench, edit):
    """From now on what goes to the pump and comes from it passes through edit(to_pump, bytes)."""

    def relay():
        for role, (master, fd, _) in bench.pairs.items():
            for near, far in ((master, fd), (fd, master)):
                try:
                    data = os.read(near, 4096)
                except OSError:
                    continue
                if role == "pump":
                    bench.sent += data if near == master else b""
                    data = edit(near == master, data)
                try:
                    os.write(far, data)
                except OSError:
                    pass

    bench.relay = relay


def somebody_else(bench, data, name=b"SOMEBODY ELSES"):
    for word in data.split(b"\r"):
        if word:
            os.write(bench.pairs["pump"][0], b"ID " + name + b"\r\n" if word == b"ID?" else b"OK " + word + b"\r\n")


def with_time_limit(bench, limit_s):
    with open(os.path.join(sys.argv[2], "templates/instruments/generic-pump-ascii-timeout.toml")) as shipped:
        text = shipped.read().replace("own_timeout_s = 2 ", f"own_timeout_s = {limit_s} ").replace("answer_s = 0.5", "answer_s = 20")
    with open(os.path.join(bench.work, "generic-pump-ascii.toml"), "w") as own:
        own.write(text)


def without_identity(bench):
    profile = os.path.join(bench.work, "generic-pump-ascii.toml")
    before, rest = open(profile).read().split("[command.identify]")
    open(profile, "w").write(before + rest[rest.index("[command."):])


def said_of(run, bench, seconds, done):
    """What it says until done(said), with the seconds that took."""
    os.set_blocking(run.stdout.fileno(), False)
    said, since = b"", time.time()
    while not done(said):
        assert time.time() < since + seconds, said[-900:]
        bench.relay()
        said += run.stdout.read() or b""
        time.sleep(0.002)
    return said.decode(), time.time() - since


def glitched(bench):
    # One byte of one answer to the question who it is, changed on the way: the pump is told to stop at once, nobody is
    # sent to its plug, the run can be resumed, and whoever answered is named as noise.
    harm = {"armed": False}

    def edit(to_pump, data):
        if not to_pump and harm["armed"] and b"ID " in data:
            harm["armed"] = False
            data = data.replace(b"pump", b"pumq")
        return data

    edited(bench, edit)
    out = os.path.join(bench.work, "glitched")
    run = bench.calibrate(out)
    bench.until(60, bench.flowing, "no water flowed")
    bench.spin(0.5)
    harm["armed"] = True
    bench.until(3, lambda: not bench.flowing(), "whoever answers there is not told to stop")
    bench.until(60, lambda: run.poll() is not None, "it did not end")
    said = words_of(run)
    assert run.returncode == 3 and PULL not in said, (run.returncode, said)
    assert "noise on its line" in journal_of(out) and PULL not in journal_of(out), journal_of(out)[-900:]
    # The first answer of all: what the journal has is the pump's own.
    harm["armed"] = True
    bench.sent = b""
    run = bench.calibrate(out + "2")
    bench.until(60, bench.flowing, "no water flowed")
    bench.spin(0.5)
    run.kill()
    run.wait()
    assert not harm["armed"] and "pumq" in journal_of(out + "2"), journal_of(out + "2")[-900:]
    closed = start(program, "recover", out + "2", "--close", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(60, lambda: closed.poll() is not None, "it is not closed")
    assert closed.returncode == 0 and not bench.flowing(), (closed.returncode, words_of(closed))


def plugged_over(bench):
    # At the far end of a device server, which closes nothing here; the pump has a time limit of its own. While water
    # flows: the other hears nothing more than to stop, and the person is sent to the own one. While it stands: no flow.
    with_time_limit(bench, 40)
    state = {}

    def edit(to_pump, data):
        if not to_pump and b"OK TIMEOUT" in data:
            state["armed"] = True
        if "other" not in state:
            return data
        if to_pump:
            state["other"] += data
            somebody_else(bench, data)
        return b""

    edited(bench, edit)
    for flowing in (True, False):
        state.clear()
        bench.sent = b""
        out = os.path.join(bench.work, f"over-{flowing}")
        run = bench.calibrate(out)
        bench.until(60, bench.flowing if flowing else lambda: "armed" in state, "no water flowed")
        bench.spin(0.5 if flowing else 0)
        assert flowing or not bench.flowing()
        state["other"] = b""
        bench.until(60, lambda: run.poll() is not None, "it did not end")
        said = words_of(run)
        assert run.returncode == 3 and PULL in said, (run.returncode, said)
        assert PULL in journal_of(out) and "SOMEBODY ELSES" in journal_of(out), (said[-900:], journal_of(out)[-900:])
        heard = set(state["other"].split(b"\r"))
        assert heard <= {b"STOP", b"ID?", b""} and b"STOP" in heard, state["other"]
        del state["other"]
        os.write(bench.pairs["pump"][1], b"STOP\r")
        bench.spin(0.2)


def frozen(bench):
    # A pump whose own time limit is half a minute of the wall clock stands no longer unnoticed than any other.
    with_time_limit(bench, 600)
    harm = {"frozen": False}
    edited(bench, lambda to_pump, data: b"" if harm["frozen"] else data)
    out = os.path.join(bench.work, "frozen")
    run = bench.calibrate(out)
    bench.until(60, bench.flowing, "no water flowed")
    bench.spin(0.5)
    harm["frozen"] = True
    said_of(run, bench, 2.5, lambda said: PULL.encode() in said)
    assert PULL in journal_of(out)
    os.write(bench.pairs["pump"][1], b"STOP\r")


def unknown(bench):
    # A pump that cannot say who it is comes back on its link within a second, water flowing: it may be another, and the
    # person is told at once, not when the balance has shown what the own one does.
    without_identity(bench)
    cable = bench.on_cable("pump")
    own = bench.pairs["pump"]
    out = os.path.join(bench.work, "unknown")
    run = bench.calibrate(out)
    bench.until(60, bench.flowing, "no water flowed")
    bench.spin(0.4)
    stranger = bench.plugged_over("pump", cable)
    told = bench.relay

    def relay():
        told()
        stranger.serve()

    bench.relay = relay
    said, _ = said_of(run, bench, 2.5, lambda said: PULL.encode() in said)
    assert "does not say who it is" in said, said
    bench.until(60, lambda: run.poll() is not None, "it did not end")
    assert run.returncode == 3 and b"FLOW" not in stranger.heard, (run.returncode, stranger.heard)
    os.write(own[1], b"STOP\r")


def long_names(bench):
    # Two pumps whose names differ beyond what a line shows.
    base = b"MAKER " + b"X" * 60 + b" serial "
    name = {"is": base + b"1"}
    edited(bench, lambda to_pump, data: data if to_pump else data.replace(b"virtual-pump 1", name["is"]))
    out = os.path.join(bench.work, "long")
    killed(bench, out)
    name["is"] = base + b"2"
    closed = start(program, "recover", out, "--close", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(60, lambda: closed.poll() is not None, "it is not closed")
    said = words_of(closed)
    assert closed.returncode == 3 and PULL in said, (closed.returncode, said)
    assert 'serial 2" instead of' in said and 'serial 1", from character 75 on' in said, said


def half_sent(bench):
    # A message in two halves: nothing of ours in between, and the command to stop not as the end of a half.
    profile = os.path.join(bench.work, "generic-pump-ascii.toml")
    words = [program, "listen", "--link", "pty " + os.ttyname(bench.pairs["pump"][2]), "--profile", profile]
    got = start(*words, "--send", "FLOW 50.000\\r", "--send", "FLOW 6", "--send", "0.000\\r", "--for", "4",
                stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(60, lambda: got.poll() is not None, "it did not end")
    heard = bench.sent.split(b"\r")
    assert b"FLOW 60.000" in heard and got.returncode == 0 and not bench.flowing(), (bench.sent, words_of(got))
    for number in (signal.SIGINT, signal.SIGSEGV):
        bench.sent = b""
        got = start(*words, "--send", "FLOW 60.000\\r", "--send", "FLOW 9", "--for", "60", stdout=subprocess.PIPE,
                    stderr=subprocess.STDOUT)
        bench.until(60, lambda: bench.sent.endswith(b"FLOW 9"), "nothing was sent")
        bench.spin(0.5)
        assert bench.sent.endswith(b"FLOW 9"), bench.sent
        got.send_signal(number)
        bench.until(60, lambda: got.poll() is not None, "it did not end")
        bench.spin(0.2)
        assert b"FLOW 9\rSTOP\r" in bench.sent, bench.sent


cases = [asked, silent_balance, silent_climate, runs_on, unreached, another_pump, cables_changed, other_users, suspended,
         gaps, cut_off, no_locks, kept_signal, no_memory, disk_stands,
         crash_unheard, sent_by_hand, small_files, signals, glitched, plugged_over, frozen, unknown, long_names, half_sent]
run_cases(cases)
