#!/usr/bin/env python3
"""Measures `tipwright page`; page_figures.cpp holds the limits. Sixteen virtual lanes run in one program, ten
browsers are ten readers of the stream of events that take every byte. Arguments: program, the program that makes a
register of a million certificates, kills, hostile requests, [PART...]. Prints "measured NAME VALUE" lines."""

import hashlib
import http.client
import json
import os
import pathlib
import random
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

program, loader, kills, hostile = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
folder = pathlib.Path(tempfile.mkdtemp(prefix="tipwright-page-figures-"))
environment = dict(os.environ, TIPWRIGHT_SETTINGS="", HOME=str(folder))
HERTZ = os.sysconf("SC_CLK_TCK")
LANES = 16
FOLLOWED_S = 0.03  # the page may have read a line so much before the follower here did
BOUNCE_S = 0.3  # of bench time: longer than any supplied kind's debouncing
BUSY_TIP_S = 1.44  # 0.2 mm at 500 mm/h
BUSY_TIPS_PER_S = 5  # of a lane, by the wall clock


def measured(name, value):
    print("measured %s %.6g" % (name, value), flush=True)


def quantile(values, share):
    values = sorted(values)
    return values[min(len(values) - 1, int(share * len(values)))] if values else float("inf")


children = []


def begin(*words, **more):
    process = subprocess.Popen([program, *map(str, words)], env=environment, stdin=subprocess.DEVNULL,
                               stderr=subprocess.DEVNULL, **more)
    children.append(process)
    return process


def lanes_file(seed=0):
    gauges = ["demo-bucket-150", "demo-bucket-200-twin", "demo-siphon-200", "demo-magnet-spoon-160", "demo-spoon-100"]
    text = 'title = "sixteen"\n'
    for k in range(LANES):
        text += ('[[lane]]\nname = "lane%02d"\nbench = "virtual-bench"\ngauge = "%s"\nplan = "ten-rate"\nseed = %d\n'
                 % (k, gauges[k % len(gauges)], seed + k + 1))
    file = folder / "lanes.toml"
    file.write_text(text)
    return file


def busy_lanes_file():
    """Sixteen gauges of 0.2 mm at 500 mm/h, longer than anything here measures."""
    plan = folder / "busy.toml"
    plan.write_text('title = "Busy"\ntarget_U_percent = 0.05\ncoverage = 0.95\nlimits = "en17277-class-a"\n'
                    '[wetting]\nintensity_mm_h = 500\ntips = 4\n[settle]\ntips = 2\ntime_s = 5\n'
                    '[decision]\nrule = "simple acceptance"\n'
                    # About as many tips as the vessel holds.
                    + "".join('[[step]]\nintensity_mm_h = %d\nmin_tips = 260\ntime_limit_s = 20000\n' % mm_h
                              for mm_h in (500, 499, 498)))
    text = 'title = "sixteen, busy"\n'
    for k in range(LANES):
        text += ('[[lane]]\nname = "lane%02d"\nbench = "virtual-bench"\ngauge = "demo-bucket-200-twin"\nplan = "%s"\n'
                 'seed = %d\n' % (k, plan, k + 1))
    file = folder / "busy-lanes.toml"
    file.write_text(text)
    return file


def await_lanes(lanes, work):
    while len(list(work.glob("*/journal.twj"))) < LANES:
        if lanes.poll() is not None:
            raise RuntimeError("the lanes ended with %d before they began" % lanes.returncode)
        time.sleep(0.05)


class Page:
    def __init__(self, work, *more):
        self.process = begin("--json", "page", work, "--port", "0", *more, stdout=subprocess.PIPE, text=True)
        self.port = int(json.loads(self.process.stdout.readline())["url"].rstrip("/").rsplit(":", 1)[1])

    def get(self, path="/", headers=None):
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        link.request("GET", path, headers=headers or {})
        answer = link.getresponse()
        body = answer.read()
        link.close()
        return answer.status, body

    def cpu_s(self):
        fields = pathlib.Path("/proc/%d/stat" % self.process.pid).read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / HERTZ

    def memory_MiB(self):
        for line in pathlib.Path("/proc/%d/status" % self.process.pid).read_text().splitlines():
            if line.startswith("VmHWM"):
                return int(line.split()[1]) / 1024

    def end(self):
        self.process.send_signal(signal.SIGINT)
        self.process.wait(20)


class Reader(threading.Thread):
    """A browser: takes the stream of events. Notes when which text came."""

    def __init__(self, page, notes):
        super().__init__(daemon=True)
        self.page, self.notes, self.going = page, notes, True

    def run(self):
        link = socket.create_connection(("127.0.0.1", self.page.port))
        link.sendall(b"GET /events HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nAccept-Language: en\r\n\r\n" % self.page.port)
        link.settimeout(1)
        rest = b""
        while self.going:
            try:
                got = link.recv(65536)
            except socket.timeout:
                continue
            except ConnectionResetError:  # a killed page
                break
            if not got:
                break
            now = time.monotonic()
            if self.notes is None:
                continue
            rest += got
            while b"\n" in rest:
                line, rest = rest.split(b"\n", 1)
                if line.startswith(b"data: [["):
                    for key, text in json.loads(line[6:]):
                        if key.endswith((".tips1", ".tips2", ".state")):
                            self.notes.append((now, key, text))
        link.close()


def follow(work, stop, entries):
    """When each tip of each journal was there to be read: moment, lane and contact. A contact that bounces closes
    again and tells no tip: nothing on the page changes by it."""
    places, closed_s = {}, {}
    while not stop.is_set():
        for journal in work.glob("*/journal.twj"):
            with open(journal, "rb") as file:
                file.seek(places.get(journal, 0))
                text = file.read()
            now = time.monotonic()
            whole = text.rfind(b"\n") + 1
            places[journal] = places.get(journal, 0) + whole
            for line in text[:whole].splitlines():
                if b" edge " not in line or b" closed=true " not in line:
                    continue
                words = line.split(b" ")
                contact = words[3].decode()[-1]
                key = (journal, contact)
                since_s = float(words[1]) - closed_s.get(key, float("-inf"))
                closed_s[key] = float(words[1])
                if since_s > BOUNCE_S:
                    entries.append((now, journal.parent.name, contact))
        time.sleep(0.004)


class Chromium:
    """A real browser as one of the ten, which notes when which text changed before its eyes."""

    def __init__(self, page):
        sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "page"))
        from browser import Browser
        self.browser = Browser()
        self.browser.open("http://127.0.0.1:%d/" % page.port)
        self.browser.ask("""window.seen = [];
            new MutationObserver((changes) => {
              const now = performance.timeOrigin + performance.now();
              for (const { target } of changes) {
                const key = target.dataset && target.dataset.k;
                if (key && /[.](tips[12]|state)$/.test(key)) window.seen.push([now, key, target.textContent]);
              }
            }).observe(document.body, { subtree: true, childList: true });""")

    def notes(self):
        """Those since the last call, by the clock of this program."""
        offset = time.time() - time.monotonic()
        return [(now / 1000 - offset, key, text)
                for now, key, text in self.browser.ask("const out = window.seen; window.seen = []; return out")]

    def end(self):
        self.browser.driver.quit()


def costs():
    """CPU, memory, and how long a tip takes from the journal to the browser."""
    work = folder / "costs"
    lanes = begin("lanes", busy_lanes_file(), "--out", work, "--speed", BUSY_TIP_S * BUSY_TIPS_PER_S,
                  stdout=subprocess.DEVNULL)
    await_lanes(lanes, work)
    page = Page(work)
    notes = []
    readers = [Reader(page, notes if k == 0 else None) for k in range(10)]
    for reader in readers:
        reader.start()
    try:
        chromium = Chromium(page)
    except SystemExit:  # it says why
        chromium = None
    time.sleep(20)
    entries, stop = [], threading.Event()
    follower = threading.Thread(target=follow, args=(work, stop, entries), daemon=True)
    follower.start()
    time.sleep(2)
    if chromium:
        chromium.notes()
    notes.clear()
    entries.clear()
    before, began = page.cpu_s(), time.monotonic()
    time.sleep(30)
    spent, took = page.cpu_s() - before, time.monotonic() - began
    stop.set()
    follower.join()
    time.sleep(1)
    if chromium:
        notes[:] = chromium.notes()
        chromium.end()
    print("seen by %s" % ("Chromium" if chromium else "a reader of the stream"), flush=True)
    measured("cpu_of_a_core", 100 * spent / took)
    measured("memory", page.memory_MiB())
    # Each tip, against the first event after it that tells of tips in any lane's place at all: an event that told
    # of tips no later than it fell would not count. The tip that opens a collect begins the count anew: where that
    # shows the same number, it is seen by the state. A lane's place has a number, not a name: by order of name.
    keys = {}
    for run in json.loads(page.get("/api/1/runs")[1])["runs"]:
        keys[run["run"]] = None
    status, body = page.get("/")
    text = body.decode()
    for name in keys:
        at = text.find('href="/run/%s"' % name)
        place = text.rfind('data-k-stand="', 0, at)
        keys[name] = text[place + 14:text.find(".", place)]
    waits = []
    for when, lane, contact in entries:
        told = (keys[lane] + ".tips" + contact, keys[lane] + ".state")
        later = [at for at, key, _ in notes if at >= when - FOLLOWED_S and key in told]
        if later:
            waits.append(max(0.0, min(later) - when))
    print("tips followed to the browser: %d, at %.1f a second; median %.0f ms, nine in ten within %.0f ms" %
          (len(waits), len(entries) / took, 1000 * quantile(waits, 0.5), 1000 * quantile(waits, 0.9)))
    measured("tip_to_browser_p99", 1000 * quantile(waits, 0.99))
    size = 0
    began = time.monotonic()
    for path in ("/", "/static/page.css", "/static/page.js", "/static/icon.svg"):
        size += len(page.get(path)[1])
    measured("first_screen_time", 1000 * (time.monotonic() - began))
    measured("first_screen", size / 1000)
    for reader in readers:
        reader.going = False
    page.end()
    lanes.send_signal(signal.SIGINT)
    lanes.wait(300)


def pump_stops(journal, places):
    """How often this journal says that the pump was told to stop."""
    with open(journal, "rb") as file:
        file.seek(places.get(journal, 0))
        text = file.read()
    whole = text.rfind(b"\n") + 1
    places[journal] = places.get(journal, 0) + whole
    return sum(line.split(b" ")[2:4] == [b"pump", b"flow_mL_min=0"] for line in text[:whole].splitlines())


def stop_by_tap():
    """From the tap, or the signal of Ctrl-C, until the run's journal says that its pump was told to stop: a virtual
    bench by the wall clock, water flowing. By turns, so that both find the machine alike."""
    waits = {"tap": [], "ctrl-c": []}
    for k in range(60):
        way = ("tap", "ctrl-c")[k % 2]
        work = folder / ("tap%d" % k)
        run = begin("calibrate", "--bench", "virtual-bench", "--gauge", "demo-bucket-200-twin", "--plan", "ten-rate",
                    "--speed", "1", "--out", work / "lane", stdout=subprocess.DEVNULL)
        journal = work / "lane" / "journal.twj"
        page = None
        while not (journal.exists() and "to=prime" in journal.read_text(errors="replace")):
            time.sleep(0.02)
        if way == "tap":
            page = Page(work)
            body = page.get("/")[1].decode()
            at = body.find('name="token" value="') + 20
            form = "token=" + body[at:body.find('"', at)]
            link = http.client.HTTPConnection("127.0.0.1", page.port, timeout=30)
            link.connect()
        while b" pump flow_mL_min=0" in journal.read_bytes().splitlines()[-1] or \
                not any(b" pump flow_mL_min=" in line and b"flow_mL_min=0" not in line
                        for line in journal.read_bytes().splitlines()):
            time.sleep(0.02)
        places = {}
        pump_stops(journal, places)
        tapped = time.monotonic()
        if page:
            link.request("POST", "/run/lane/stop", form, {"Content-Type": "application/x-www-form-urlencoded",
                                                          "Origin": "http://127.0.0.1:%d" % page.port})
        else:
            run.send_signal(signal.SIGINT)
        while pump_stops(journal, places) == 0 and time.monotonic() < tapped + 20:
            time.sleep(0.001)
        waits[way].append(time.monotonic() - tapped)
        if page:
            link.getresponse().read()
        # It would wait for its balance to come to rest; nothing more is measured.
        run.kill()
        run.wait()
        if page:
            page.end()
    for way, all_of_it in waits.items():
        print("pump told to stop after %s: median %.0f ms, p99 %.0f ms" %
              (way, 1000 * quantile(all_of_it, 0.5), 1000 * quantile(all_of_it, 0.99)), flush=True)
    measured("tap_beyond_ctrl_c_p99", max(0.0, quantile(waits["tap"], 0.99) - quantile(waits["ctrl-c"], 0.99)))


def lists():
    """The screen of certificates of a large register, by any filter, as a browser gets it."""
    million = folder / "million"
    subprocess.run([loader, "load", million], check=True, env=environment, stdout=subprocess.DEVNULL)
    (folder / "no-runs").mkdir()
    page = Page(folder / "no-runs", "--register", million)
    count = int(os.environ.get("REGISTER_FIGURES_CERTIFICATES", "1000000"))
    luck = random.Random(5)
    page.get("/certificates")
    waits, least = [], {}
    for k in range(300):
        kind = ("all", "serial", "customer", "nobody", "both")[k % 5]
        serial = "serial=G-%07d" % luck.randrange(1, count // 4 + 1)
        customer = "customer=Customer+%d+%%28invented%%29" % luck.randrange(1, 2001)
        query = {"all": "", "serial": serial, "customer": customer, "nobody": "serial=none", "both": serial + "&" + customer}
        began = time.monotonic()
        status, body = page.get("/certificates?" + query[kind])
        waits.append(time.monotonic() - began)
        least.setdefault(kind, []).append(waits[-1])
        if status != 200 or (kind in ("all", "serial", "customer")) != (b"/certificates/issued/" in body):
            print("list by %s: answer %d without what was asked for" % (kind, status), flush=True)
            return
    for kind, times in least.items():
        print("list by %s: median %.1f ms, longest %.1f ms" % (kind, 1000 * quantile(times, 0.5), 1000 * max(times)), flush=True)
    measured("list_p99", 1000 * quantile(waits, 0.99))
    page.end()
    shutil.rmtree(million, ignore_errors=True)


def journals_of(work):
    return {file.parent.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in work.glob("*/journal.twj")}


def killed():
    """Lockstep runs are the same bytes for the same seed: with a page over them, killed again and again, too."""
    done, differ, round_number = 0, 0, 0
    luck = random.Random(7)
    while done < kills:
        round_number += 1
        file = lanes_file(1000 * round_number)
        alone, watched = folder / "alone", folder / "watched"
        for one in (alone, watched):
            shutil.rmtree(one, ignore_errors=True)
        begin("lanes", file, "--out", alone, stdout=subprocess.DEVNULL).wait()
        watched.mkdir()
        run = begin("lanes", file, "--out", watched, stdout=subprocess.DEVNULL)
        while run.poll() is None:
            page = Page(watched)
            reader = Reader(page, None)
            reader.start()
            time.sleep(luck.uniform(0.0, 0.25))
            # One that outlives the runs was killed at no moment of theirs.
            done += run.poll() is None
            page.process.kill()
            page.process.wait()
        before, after = journals_of(alone), journals_of(watched)
        differ += sum(before[name] != after.get(name) for name in before)
    measured("kills", done)
    measured("journals_that_differ", differ)


SCRIPT = "<script>window.ran=1</script><img src=x onerror=window.ran=1>"


def scripts():
    """Script in every text that a person or a description can give, looked at by a real browser on every screen in
    every language: what it ran, or took for markup."""
    sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "page"))
    from browser import Browser
    register, work = folder / "hostile-register", folder / "hostile-work"
    (folder / "hostile.toml").write_text(
        'kind = "bucket-200-twin"\nserial = "G%s"\nmodel = "M%s"\nstation = "S%s"\ncondition = "D%s"\n'
        '[customer]\nname = "C%s"\naddress = "D%s"\n' % ((SCRIPT,) * 6))

    def done(*words):
        said = subprocess.run([program, *map(str, words)], env=environment, stdin=subprocess.DEVNULL, capture_output=True,
                              text=True)
        if said.returncode != 0:
            print("hostile: %s: %s" % (words[:3], said.stderr.strip()), flush=True)
        return said.returncode == 0

    who = ("--register", register, "--person", "A. Signatory")
    steps = [done("register", "create", *who), done("register", "customer", "add", "C" + SCRIPT, *who),
             done("calibrate", "--bench", "virtual-bench", "--gauge", folder / "hostile.toml", "--plan", "three-point-check",
                  "--operator", "O" + SCRIPT, "--out", work / "lane"),
             done("certificate", "draft", work / "lane" / "record.json", "--reason", "R" + SCRIPT, *who)]
    if not all(steps):
        return
    serial = json.loads((work / "lane" / "record.json").read_text())["identity"]["serial"]
    done("register", "service", "open", serial, "--condition", "D" + SCRIPT, *who)
    page = Page(work, "--register", register)
    from urllib.parse import quote
    paths = ["", "run/lane", "log-in?next=" + quote(SCRIPT), "gauge-on?serial=" + quote(serial), "adjust?run=lane",
             "certificates?customer=" + quote(SCRIPT), "certificates/draft/1", "years?instrument=" + quote(SCRIPT),
             "years/gauge?serial=" + quote(serial), "field-check?serial=" + quote(SCRIPT), "no" + quote(SCRIPT)]
    looked, ran, told = 0, 0, 0
    with Browser() as browser:
        url = "http://127.0.0.1:%d/" % page.port
        for language in ("en", "de", "fr", "es"):
            browser.open(url + "language?to=" + language)
            for path in paths:
                browser.open(url + path)
                looked += 1
                ran += bool(browser.ask("return window.ran === 1 || document.querySelector('main script, main img') !== null"))
                told += "<script>" in browser.ask("return document.body.textContent")
    print("screens looked at: %d, of which show the script as text: %d" % (looked, told), flush=True)
    # Nothing was looked at where no screen shows it.
    measured("hostile_scripts_run", ran if told > looked // 2 else 1e9)
    page.end()


SECRET = "this stands in no answer"


def hostile_bytes(luck, port):
    host = b"127.0.0.1:%d" % port
    target = luck.choice([b"/", b"/run/lane", b"/stop", b"/run/lane/stop", b"/static/page.js", b"/api/1/runs", b"/events",
                          b"/gauge-on?serial=%s", b"/certificates", b"/years/gauge?serial=x", b"/log-in",
                          b"/certificates/issued/..%2f..%2fsecret/x", b"/gauge-on?serial=../secret&bench=../secret"])
    kind = luck.randrange(9)
    if kind == 0:  # traversal
        way = luck.choice([b"../", b"..%2f", b"%2e%2e/", b"..\\", b"....//", b"%252e%252e/"]) * luck.randrange(1, 8)
        return b"GET " + luck.choice([b"/static/", b"/run/", b"/", b"/api/1/runs/"]) + way + luck.choice(
            [b"secret", b"etc/passwd", b"lane/journal.twj"]) + b" HTTP/1.1\r\nHost: " + host + b"\r\n\r\n"
    if kind == 1:  # other names
        return b"POST " + target + b" HTTP/1.1\r\nHost: evil.example\r\nOrigin: http://evil.example\r\nContent-Length: 0\r\n\r\n"
    if kind == 2:  # another site's command, with and without what a browser would add
        origin = luck.choice([b"Origin: http://evil.example\r\n", b"Origin: null\r\n", b"", b"Sec-Fetch-Site: cross-site\r\n"])
        body = b"token=" + bytes(luck.choice(b"abcXYZ019-_") for _ in range(32))
        return (b"POST /stop HTTP/1.1\r\nHost: " + host + b"\r\n" + origin +
                b"Content-Type: application/x-www-form-urlencoded\r\nContent-Length: %d\r\n\r\n" % len(body) + body)
    if kind == 3:  # its own origin, a guessed token
        body = b"token=" + bytes(luck.choice(b"abcXYZ019-_") for _ in range(32))
        return (b"POST " + target + b" HTTP/1.1\r\nHost: " + host + b"\r\nOrigin: http://" + host +
                b"\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: %d\r\n\r\n" % len(body) + body)
    if kind == 4:  # two lengths, two hosts, chunks
        return (b"POST " + target + b" HTTP/1.1\r\nHost: " + host + luck.choice(
            [b"\r\nContent-Length: 5\r\nContent-Length: 50", b"\r\nHost: evil.example",
             b"\r\nTransfer-Encoding: chunked\r\nContent-Length: 3", b"\r\nTransfer-Encoding: xchunked"]) + b"\r\n\r\nabcde")
    if kind == 5:  # too much
        return b"GET /" + b"a" * luck.randrange(1, 30000) + b" HTTP/1.1\r\nHost: " + host + b"\r\n" + b"X: y\r\n" * luck.randrange(
            3000) + b"\r\n"
    if kind == 6:  # noise
        return bytes(luck.randrange(256) for _ in range(luck.randrange(400)))
    good = bytearray(b"GET " + target + b" HTTP/1.1\r\nHost: " + host + b"\r\nAccept-Language: de\r\nCookie: session=x; "
                     b"language=fr\r\n\r\n")
    for _ in range(luck.randrange(1, 6)):
        at = luck.randrange(len(good))
        good[at:at + luck.randrange(3)] = bytes(luck.randrange(256) for _ in range(luck.randrange(3)))
    return bytes(good)


def attacked():
    work = folder / "attacked"
    work.mkdir()
    (folder / "secret").write_text(SECRET)
    (work / "secret").write_text(SECRET)
    run = begin("calibrate", "--bench", "virtual-bench", "--gauge", "demo-bucket-200-twin", "--plan", "ten-rate",
                "--speed", "1", "--out", work / "lane", stdout=subprocess.DEVNULL)
    journal = work / "lane" / "journal.twj"
    while not (journal.exists() and "to=prime" in journal.read_text(errors="replace")):
        time.sleep(0.02)
    page = Page(work)
    luck = random.Random(11)
    read = 0
    resource.setrlimit(resource.RLIMIT_NOFILE, (4096, resource.getrlimit(resource.RLIMIT_NOFILE)[1]))
    slow = []
    for k in range(1000):  # many that say nothing, or a byte now and then
        try:
            link = socket.create_connection(("127.0.0.1", page.port), timeout=5)
            link.sendall(b"GET / HTTP/1.1\r\nHost:"[:luck.randrange(1, 22)])
            slow.append(link)
        except OSError:
            pass
    refused = 0
    for k in range(hostile):
        try:
            link = socket.create_connection(("127.0.0.1", page.port), timeout=5)
            link.sendall(hostile_bytes(luck, page.port))
            link.shutdown(socket.SHUT_WR)
            link.settimeout(2)
            answer = b""
            while len(answer) < 1 << 20:
                got = link.recv(65536)
                if not got:
                    break
                answer += got
                if b"text/event-stream" in answer:
                    break
            read += SECRET.encode() in answer or b"root:x:" in answer or b"tipwright-journal" in answer
            link.close()
        except OSError:
            refused += 1
        if k % 50 == 0 and slow:
            try:
                luck.choice(slow).sendall(b"x")
            except OSError:
                pass
    # An honest browser is served after, and meanwhile, all that.
    status, body = page.get("/")
    gone = page.process.poll() is not None or status != 200 or b"lane" not in body
    text = journal.read_text(errors="replace")
    # Its descriptions may hold any word: what happened is told by the kind of an entry.
    kinds = [line.split(" ", 3)[2] for line in text.splitlines()[1:] if line.count(" ") >= 3]
    stopped = run.poll() is not None or "close" in kinds or "fault" in kinds
    if stopped:
        print("the run ended: " + " / ".join(text.splitlines()[-4:]), flush=True)
    print("hostile requests that were cut off: %d of %d" % (refused, hostile))
    measured("hostile_requests", hostile)
    measured("hostile_runs_disturbed", int(stopped))
    measured("hostile_commands_done", int(stopped))
    measured("hostile_files_read", read)
    measured("hostile_page_gone", int(gone))
    page.end()
    run.send_signal(signal.SIGINT)
    run.wait(300)


def tips_to_journal():
    """What a run's own pace loses by the page: lines of the journal that are written late, by the journal's own clock
    against the wall's, over a served page with ten browsers against none."""
    late = {}
    for with_page in (False, True, False, True):
        work = folder / ("pace%d" % len(late) if with_page else "pace-alone%d" % len(late))
        shutil.rmtree(work, ignore_errors=True)
        lanes = begin("lanes", lanes_file(), "--out", work, "--speed", "1", stdout=subprocess.DEVNULL)
        await_lanes(lanes, work)
        page = Page(work) if with_page else None
        readers = [Reader(page, None) for _ in range(10)] if page else []
        for reader in readers:
            reader.start()
        time.sleep(5)
        stop, waits, places = time.monotonic() + 20, [], {}
        first = {}
        while time.monotonic() < stop:
            for journal in work.glob("*/journal.twj"):
                with open(journal, "rb") as file:
                    file.seek(places.get(journal, 0))
                    text = file.read()
                now = time.monotonic()
                whole = text.rfind(b"\n") + 1
                places[journal] = places.get(journal, 0) + whole
                for line in text[:whole].splitlines():
                    words = line.split()
                    try:
                        bench_s = float(words[1])
                    except (IndexError, ValueError):
                        continue
                    first.setdefault(journal, []).append(now - bench_s)
            time.sleep(0.002)
        for journal, offsets in first.items():
            least = min(offsets)
            waits += [one - least for one in offsets[len(offsets) // 10:]]
        late.setdefault(with_page, []).append(quantile(waits, 0.99))
        for reader in readers:
            reader.going = False
        if page:
            page.end()
        lanes.send_signal(signal.SIGINT)
        lanes.wait(300)
    measured("tip_to_journal_p99_ratio", min(late[True]) / max(min(late[False]), 1e-6))


parts = (costs, tips_to_journal, stop_by_tap, lists, killed, scripts, attacked)
wanted = sys.argv[5:] or [part.__name__ for part in parts]
try:
    for part in parts:
        if part.__name__ not in wanted:
            continue
        try:
            part()
        except Exception as error:  # the other parts are measured all the same
            print("%s was not measured: %s" % (part.__name__, error), flush=True)
finally:
    for process in children:
        if process.poll() is None:
            process.kill()
            process.wait()
    shutil.rmtree(folder, ignore_errors=True)
