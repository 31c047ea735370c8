# Each case on a bench of its own: see tests/support/relayed_bench.py. Arguments: program, source folder.
import os
import re
import resource
import signal
import subprocess
import sys
import time
import zlib

sys.path.insert(0, os.path.join(sys.argv[2], "tests/support"))
from relayed_bench import GAUGE, SPEED, journal_of, program, run_cases, start, wait, words_of

VESSEL_G = 180  # of templates/benches/virtual-bench.toml
CAPACITY_G = 600


def changed(file, *changes):
    text = open(file).read()
    for old, new in changes:
        assert re.search(old, text, re.M), old
        text = re.sub(old, new, text, count=1, flags=re.M)
    open(file, "w").write(text)


def watched(bench):
    # What the balance shows, and the most it ever did.
    relay = bench.relay
    bench.shows = bench.most = 0

    def relay_and_look():
        relay()
        shown = re.findall(rb"([-+]?) *([0-9]+\.[0-9]+) g", bench.weighed)
        if shown:
            bench.shows = float(b"".join(shown[-1]))
            bench.most = max(bench.most, bench.shows)

    bench.relay = relay_and_look


def fill(bench, to_g):
    os.write(bench.pairs["pump"][1], b"FLOW 300.000\r")
    bench.until(120, lambda: bench.shows > to_g, "the vessel is not filled")
    os.write(bench.pairs["pump"][1], b"STOP\r")
    # What is in funnel and gauge comes still.
    bench.spin(2)


def nobody_empties(bench, run):
    since = len(bench.sent)
    bench.until(60, lambda: run.poll() is not None, "it waits for ever for a person before the first water")
    said = words_of(run)
    assert run.returncode == 3 and "Empty the vessel" in said and "nobody lifted" in said, (run.returncode, said)
    assert b"FLOW" not in bench.sent[since:], "water flows into a vessel that is full"
    assert bench.most < VESSEL_G + CAPACITY_G, (bench.most, said)


def brim(bench):
    # Without a drain valve what stands in the vessel before the run is water, for a run that begins and one that goes on.
    changed(bench.file, ("^drain_valve = true", "drain_valve = false"), ("^capacity_g = .*", f"capacity_g = {CAPACITY_G}"))
    plan = os.path.join(bench.work, "plan.toml")
    open(plan, "w").write('title = "Trial"\ntarget_U_percent = 2.0\ncoverage = 0.95\n[wetting]\nintensity_mm_h = 250\ntips = 8\n'
                          "[settle]\ntips = 2\ntime_s = 12\n[[step]]\nintensity_mm_h = 50\nmin_tips = 20\ntime_limit_s = 3000\n")
    watched(bench)
    out = os.path.join(bench.work, "brim")
    run = bench.calibrate(out, plan)
    bench.until(60, lambda: "to=collect" in journal_of(out) or run.poll() is not None, "it does not begin")
    assert run.poll() is None, words_of(run)
    run.send_signal(signal.SIGINT)
    bench.until(60, lambda: run.poll() is not None, "it did not end")
    fill(bench, VESSEL_G + CAPACITY_G - 100)
    nobody_empties(bench, start(program, "recover", out, "--resume", "--speed", SPEED, stdout=subprocess.PIPE,
                                stderr=subprocess.STDOUT))
    nobody_empties(bench, bench.calibrate(os.path.join(bench.work, "full"), plan))
    # As for work outside a run.
    for words in (["bench-check", "--watch", "5", "--flow", "240", "--volume-mL", "150", "--without-contacts"],
                  ["pump-calibration", "--flows", "100", "--target", "2"]):
        nobody_empties(bench, start(program, words[0], "--bench", bench.file, *GAUGE, "--speed", SPEED, *words[1:],
                                    stdout=subprocess.PIPE, stderr=subprocess.STDOUT))


def journal_removed(bench):
    # A run whose journal nobody will find any more ends within seconds, not after hours.
    out = os.path.join(bench.work, "removed")
    run = bench.calibrate(out)
    bench.until(60, bench.flowing, "no water flowed")
    os.remove(os.path.join(out, "journal.twj"))
    since = time.time()
    bench.until(30, lambda: not bench.flowing(), "the pump runs on without a journal")
    assert time.time() - since < 10, time.time() - since
    bench.until(60, lambda: run.poll() is not None, "it did not end")
    said = words_of(run)
    assert run.returncode == 3 and "the journal was removed" in said, (run.returncode, said)


def lock_removed(bench):
    # Whoever deletes the file of a lock lets nobody in: the device is locked itself, and the file comes back.
    device = os.ttyname(bench.pairs["pump"][2])
    lock = f"/run/lock/tipwright-{device.replace('/', '-')}.lock"
    if not os.path.isdir("/run/lock"):
        lock = lock.replace("/run/lock", "/tmp")
    run = bench.calibrate(os.path.join(bench.work, "locked"))
    bench.until(60, bench.flowing, "no water flowed")
    os.remove(lock)
    second = start(program, "listen", "--link", "pty " + device, "--send", "FLOW 7.000\\r", "--stop", "STOP\\r", "--for", "0.5",
                   stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(30, lambda: second.poll() is not None, "the second program goes on")
    said = words_of(second)
    assert second.returncode == 3 and "in use by another program" in said, (second.returncode, said)
    bench.until(30, lambda: os.path.exists(lock), "the lock does not come back")
    assert bench.flowing() and run.poll() is None and b"FLOW 7" not in bench.sent, said
    run.send_signal(signal.SIGINT)
    bench.until(60, lambda: run.poll() is not None, "it did not end")
    assert run.returncode == 130, (run.returncode, words_of(run))


def clock_set_back(bench):
    # A run that is resumed at a time of day before the one at which it broke off says so.
    changed(bench.file, (r"^\[virtual\][^\[]*", ""))
    gauge = ["--bench", bench.file, *GAUGE, "--plan", "three-point-check", "--reason", "a trial"]
    out = os.path.join(bench.work, "clock")
    run = start(program, "calibrate", *gauge, "--side-up", "unknown", "--out", out, stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL)
    bench.until(60, lambda: " state " in journal_of(out) or run.poll() is not None, "it does not begin")
    assert run.poll() is None, words_of(run)
    run.kill()
    run.wait()
    journal = os.path.join(out, "journal.twj")
    first, opening, rest = open(journal, "rb").read().split(b"\n", 2)
    opening = re.sub(rb'started_at=\S+', b"started_at=2099-01-01T00:00:00Z", opening.rsplit(b" *", 1)[0])
    open(journal, "wb").write(b"\n".join((first, opening + b" *%08x" % zlib.crc32(opening), rest)))
    run = start(program, "recover", out, "--resume", stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    bench.until(60, lambda: " continue " in journal_of(out) and "weight" in journal_of(out).split(" continue ")[1]
                or run.poll() is not None, "it does not go on")
    assert run.poll() is None, words_of(run)
    run.send_signal(signal.SIGINT)
    bench.until(120, lambda: run.poll() is not None, "it did not end")
    remark = [line for line in journal_of(out).splitlines() if " remark " in line and "clock said" in line]
    assert len(remark) == 1 and "earlier than the 2099-01-01" in remark[0], journal_of(out)[-2000:]


def lanes_file(work, *lanes):
    file = os.path.join(work, "lanes.toml")
    open(file, "w").write('title = "Trial"\n' + "".join(
        f'[[lane]]\nname = "{name}"\nbench = "{bench}"\ngauge = "demo-bucket-200-twin"\nplan = "{plan}"\n'
        for name, bench, plan in lanes))
    return file


def shared_balance(bench):
    # Two lanes on one balance under two names are told apart by their names, before anything is touched.
    text = open(bench.file).read()
    block = next(part for part in text.split("[[instrument]]") if 'role = "balance"' in part)
    device = block.split('link = "pty ')[1].split('"')[0]
    other_name = os.path.join(bench.work, "balance")
    os.symlink(device, other_name)
    other = os.path.join(bench.work, "other.toml")
    text = text.replace(f'"pty {device}"', f'"pty {other_name}"')
    # The other bench's pump, counter and climate sensor are others.
    for number, part in enumerate(text.split("[[instrument]]")):
        if 'role = "balance"' not in part and 'link = "pty ' in part:
            link = part.split('link = "pty ')[1].split('"')[0]
            text = text.replace(f'"pty {link}"', f'"pty /dev/pts/9999{number}"')
    open(other, "w").write(text)
    lanes = lanes_file(bench.work, ("one", bench.file, "three-point-check"), ("two", other, "three-point-check"))
    run = start(program, "lanes", lanes, "--speed", SPEED, "--out", os.path.join(bench.work, "lanes"), stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT)
    bench.until(60, lambda: run.poll() is not None, "it goes on")
    said = words_of(run)
    assert run.returncode == 2 and "lanes one and two share the link" in said, (run.returncode, said)
    assert device in said and other_name in said and not bench.flowing(), said


def no_more_threads(bench):
    # A lane that came to its end while the system gives no more threads gets its results all the same.
    short = os.path.join(bench.work, "short.toml")
    open(short, "w").write('title = "Short"\ntarget_U_percent = 20.0\ncoverage = 0.95\n[wetting]\nintensity_mm_h = 250\ntips = 6\n'
                           "[settle]\ntips = 2\ntime_s = 12\n[[step]]\nintensity_mm_h = 150\nmin_tips = 10\ntime_limit_s = 300\n")
    out = os.path.join(bench.work, "lanes")
    lanes = lanes_file(bench.work, ("one", "virtual-bench", "three-point-check"), ("two", "virtual-bench", short))
    stack = 1 << 30
    run = start(program, "lanes", lanes, "--speed", "40", "--out", out, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_STACK, (stack, stack)))
    two = os.path.join(out, "two")
    wait(60, lambda: "to=collect" in journal_of(two) or run.poll() is not None)
    assert run.poll() is None, words_of(run)
    # Room for the work, none for the stack of a thread.
    used = int(open(f"/proc/{run.pid}/statm").read().split()[0]) * resource.getpagesize()
    resource.prlimit(run.pid, resource.RLIMIT_AS, (used + stack // 2, used + stack // 2))
    wait(60, lambda: "complete=true" in journal_of(two) or run.poll() is not None)
    time.sleep(0.5)
    assert run.poll() is None, words_of(run)
    run.send_signal(signal.SIGINT)
    wait(120, lambda: run.poll() is not None)
    said = words_of(run)
    assert run.returncode == 130 and "defect" not in said, (run.returncode, said)
    assert os.path.exists(os.path.join(two, "certificate.pdf")), (os.listdir(two), said)


run_cases([brim, journal_removed, lock_removed, clock_set_back, shared_balance, no_more_threads])
