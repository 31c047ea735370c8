"""The page's desk, asked over HTTP: a run that is begun there names who is logged in; starts and stops stand in the
audit log with person and device; a certificate is issued, packed and replaced; the page refuses what the command line
refuses, in the same words. Arguments: the program, the source folder."""

import html
import http.client
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.parse
import zipfile

program = sys.argv[1]
folder = pathlib.Path(tempfile.mkdtemp(prefix="tipwright-page-desk-"))
register, keys, work = folder / "register", folder / "keys", folder / "work"
environment = dict(os.environ, HOME=str(folder), TIPWRIGHT_SETTINGS="", TIPWRIGHT_REGISTER=str(register),
                   TIPWRIGHT_KEYS=str(keys), XDG_DATA_HOME=str(folder / "data"))
for name in ("TIPWRIGHT_PERSON", "TIPWRIGHT_CHECK_GAUGE", "TIPWRIGHT_TRIAL_NOW"):
    environment.pop(name, None)
PASSPHRASE = "rain on a tin roof"
failures = []
children = []


def check(holds, what):
    if not holds:
        failures.append(what)
        print("FAILED: " + what, file=sys.stderr, flush=True)


def run(*words, secrets=(), code=0):
    """To its end; what it says. Each secret is given on a descriptor, from 10 on."""
    pipes = []
    for secret in secrets:
        reading, writing = os.pipe()
        os.write(writing, secret.encode() + b"\n")
        os.close(writing)
        pipes.append(reading)
    command = [program, *map(str, words)]
    for k, pipe in enumerate(pipes):
        command = [one.replace("@%d" % k, str(pipe)) for one in command]
    done = subprocess.run(command, env=environment, text=True, stdin=subprocess.DEVNULL, capture_output=True,
                          pass_fds=pipes)
    for pipe in pipes:
        os.close(pipe)
    check(done.returncode == code, "%s: exit code %d: %s%s" % (" ".join(command[1:]), done.returncode, done.stdout, done.stderr))
    return done.stdout + done.stderr


def by(person, *words, more=(), code=0):
    return run(*words, "--person", person, "--person-passphrase-fd", "@0", secrets=(PASSPHRASE, *more), code=code)


class Page:
    def __init__(self, *more):
        self.process = subprocess.Popen([program, "--json", "page", str(work), "--port", "0", *map(str, more)],
                                        env=environment, text=True, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE)
        children.append(self.process)
        self.port = int(json.loads(self.process.stdout.readline())["url"].rstrip("/").rsplit(":", 1)[1])
        self.cookie = ""
        self.token = re.search('name="token" value="([^"]+)"', self.get("/")[2]).group(1)

    def ask(self, method, path, form=None):
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        headers = {"Origin": "http://127.0.0.1:%d" % self.port, "Content-Type": "application/x-www-form-urlencoded",
                   "Accept-Language": "en", "Cookie": self.cookie}
        body = urllib.parse.urlencode(dict(form or {}, token=self.token)) if method == "POST" else None
        link.request(method, path, body, headers)
        answer = link.getresponse()
        raw = answer.read()
        self.raw = raw
        link.close()
        return answer.status, dict(answer.getheaders()), html.unescape(raw.decode("utf-8", "replace"))

    def get(self, path):
        return self.ask("GET", path)

    def post(self, path, **form):
        return self.ask("POST", path, form)

    def log_in(self, person, passphrase=PASSPHRASE):
        status, headers, text = self.post("/log-in", person=person, passphrase=passphrase)
        self.cookie = headers.get("Set-Cookie", "").split(";")[0]
        return status

    def end(self):
        self.process.send_signal(signal.SIGINT)
        check(self.process.wait(30) == 0, "the page ends with a fault")


def until(what, holds, seconds=60):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if holds():
            return
        time.sleep(0.05)
    check(False, "not within %d s: %s" % (seconds, what))


def log():
    return run("register", "log", "--last", "300")


def entry(*parts):
    """The last line of the log that holds all of these."""
    lines = [line for line in log().splitlines() if all(part in line for part in parts)]
    check(lines, "the audit log has no entry with %s:\n%s" % (parts, log()))
    return lines[-1] if lines else ""


def prepared():
    run("register", "create", "--logins", "--person", "A. Signatory", "--new-passphrase-fd", "@0", secrets=(PASSPHRASE,))
    by("A. Signatory", "register", "person", "add", "C. Checker", "--may-check", "true")
    by("A. Signatory", "register", "person", "passphrase", "C. Checker", "--new-passphrase-fd", "@1", more=("given first",))
    run("register", "person", "passphrase", "--person", "C. Checker", "--person-passphrase-fd", "@0", "--new-passphrase-fd",
        "@1", secrets=("given first", PASSPHRASE))
    by("A. Signatory", "register", "customer", "add", "Weather Service of Gaugewick (invented)", "--interval-months", "12",
       "--agreed", "invented order 17")
    run("keys", "make", "--passphrase-fd", "@0", secrets=(PASSPHRASE,))
    work.mkdir()
    run("calibrate", "--bench", "virtual-bench", "--gauge", "demo-siphon-200", "--plan", "five-point-as-found", "--out",
        folder / "first", "--started-at", time.strftime("%Y-%m-%dT00:00:00Z", time.gmtime(time.time() - 86400)))
    by("A. Signatory", "certificate", "draft", folder / "first" / "record.json", "--reason", "a test")
    return json.loads((folder / "first" / "record.json").read_text())["identity"]["serial"]


def begun_and_stopped(page, serial):
    """By somebody logged in, then stopped by nobody in particular."""
    status, headers, _ = page.post("/gauge-on/start", serial=serial, bench="virtual-bench", plan="three-point-check")
    check(status == 303 and headers["Location"].startswith("/log-in"), "a run is begun for nobody: %d" % status)
    check(page.log_in("A. Signatory", "wrong") == 403, "a wrong passphrase logs in")
    entry("command", "/log-in", "not_logged_in_as", "127.0.0.1")
    check(page.log_in("A. Signatory") == 303, "not logged in")
    status, headers, text = page.post("/gauge-on/start", serial=serial, bench="virtual-bench", plan="three-point-check",
                                      reason="a test")
    check(status == 303, "no run: %d %s" % (status, text[:2000]))
    run_name = urllib.parse.unquote(headers["Location"].removeprefix("/run/"))
    until("its record", lambda: (work / run_name / "record.json").exists(), 120)
    record = json.loads((work / run_name / "record.json").read_text())
    check(record["operator_name"] == "A. Signatory", "the run names %s" % record["operator_name"])
    line = entry("A. Signatory", "command", "/gauge-on/start", "127.0.0.1", serial, "three-point-check")
    check(PASSPHRASE not in log(), "a passphrase stands in the log")
    slow = subprocess.Popen([program, "calibrate", "--bench", "virtual-bench", "--gauge", "demo-siphon-200", "--plan", "ten-rate",
                             "--speed", "20", "--out", str(work / "slow")], env=environment, stdin=subprocess.DEVNULL,
                            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    children.append(slow)
    until("a run to stop", lambda: "slow" in page.get("/api/1/runs")[2], 60)
    until("water", lambda: "to=prime" in (work / "slow" / "journal.twj").read_text(errors="replace"), 60)
    cookie, page.cookie = page.cookie, ""
    check(page.post("/run/slow/stop")[0] == 303, "a lane is not stopped without a log-in")
    check(slow.wait(120) == 130, "the stopped run ends with another code than Ctrl-C gives")
    until("the stop in the log", lambda: "/run/slow/stop" in log(), 20)
    line = entry("command", "/run/slow/stop", "127.0.0.1")
    check("A. Signatory" not in line, "a stop by nobody names somebody: " + line)
    page.cookie = cookie
    return run_name


def issued(page, serial):
    draft = "/certificates/draft/1"
    check(page.get(draft)[0] == 200, "no draft")
    page.log_in("C. Checker")
    check(page.post(draft + "/check")[0] == 303, "not checked")
    page.log_in("A. Signatory")
    # Out of control, or not known to be in control: the command line's words.
    said = by("A. Signatory", "certificate", "issue", "1", "--check-gauge", serial, "--passphrase-fd", "@1",
              more=(PASSPHRASE,), code=6)
    line = said.strip().splitlines()[-1].removeprefix("tipwright: ")
    check("in control" in line, "the command line says " + said)
    strict = Page("--check-gauge", serial)
    strict.log_in("A. Signatory")
    text = strict.get(draft)[2]
    check("Nobody knows whether the bench is in control" in text and 'name="seal"' not in text,
          "an issue is offered that would be refused: " + text[-2500:])
    status, _, text = strict.post(draft + "/issue", seal=PASSPHRASE, reason="a test")
    check(status == 409 and line in text, "the page says %d %s, the command line %s" % (status, text[-1500:], line))
    strict.end()
    status, headers, text = page.post(draft + "/issue", seal=PASSPHRASE, reason="a test")
    check(status == 303, "not issued: %d %s" % (status, text[-1500:]))
    where = headers.get("Location", "")
    entry("A. Signatory", "command", draft + "/issue", "127.0.0.1")
    status, headers, _ = page.get(where + "/pack.zip")
    check(status == 200 and headers["Content-Type"] == "application/zip", "no pack: %d" % status)
    (folder / "pack.zip").write_bytes(page.raw)
    names = zipfile.ZipFile(folder / "pack.zip").namelist()
    check(any(name.endswith(".pdf") for name in names) and len(names) > 3, "the pack holds %s" % names)
    number = where.rsplit("/", 1)[1]
    run("pack", number, "--out", folder / "same.zip")
    check((folder / "same.zip").read_bytes() == page.raw, "the page's pack is another than the command's")
    status, headers, text = page.post(where + "/replace", reason="a name was wrong")
    check(status == 303 and headers["Location"].startswith("/certificates/draft/"), "no replacement: %d %s" % (status, text[-800:]))
    again = page.get(headers["Location"])[2]
    check(number in again and "a name was wrong" in again, "the draft does not say what it replaces and why")
    status, _, text = page.post(where + "/replace")
    check(status == 409, "replaced without a reason")
    for name, key in (("gauges", "serial"), ("certificates", "certificate"), ("due", "due_on")):
        facts = json.loads(page.get("/api/1/" + name)[2])
        check(facts["version"] == 1 and facts["cut"] is False and key in facts[name][0], "%s: %s" % (name, facts))
    check(json.loads(page.get("/api/1/certificates?serial=" + serial)[2])["certificates"][0]["certificate"] == number,
          "the certificate is not among the facts")
    check(page.get("/api/1/gauges?customer=nobody")[0] == 404, "a customer that nobody knows is known")


try:
    serial = prepared()
    page = Page()
    begun_and_stopped(page, serial)
    issued(page, serial)
    page.end()
    report = run("register", "check")
    check("fault" not in report.lower() or "0 fault" in report.lower() or "no fault" in report.lower(), report)
finally:
    for child in children:
        if child.poll() is None:
            child.kill()
            child.wait()
    shutil.rmtree(folder, ignore_errors=True)
if failures:
    sys.exit(1)
print("all checks passed")
