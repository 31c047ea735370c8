"""What the browser tests share: a page that is served, runs beside it, and Debian's Chromium without a window.
Exit code 77 (skipped) where no browser is installed."""

import json
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request

try:
    from selenium import webdriver
    from selenium.common.exceptions import StaleElementReferenceException
    from selenium.webdriver.chrome.service import Service
    from selenium.webdriver.common.by import By
    from selenium.webdriver.support.ui import Select
except ImportError:
    print("skipped: python3-selenium is not installed")
    sys.exit(77)
if not shutil.which("chromium") or not shutil.which("chromedriver"):
    print("skipped: chromium or chromium-driver is not installed")
    sys.exit(77)

GLOVE_PX = 48  # smallest side of what is touched with a glove on


def quietly(ask):
    """What cannot be answered yet is not there yet."""
    try:
        return ask()
    except (OSError, urllib.error.HTTPError):
        return None


class Missing(SystemExit):
    """A place that the page does not have; while something is waited for: not yet."""


def fail(what):
    raise SystemExit("FAILED: " + what)


def check(holds, what):
    if not holds:
        fail(what)


def until(what, holds, seconds=60.0):
    """Waits until `holds()` gives something true, and gives that."""
    end = time.monotonic() + seconds
    missing = ""
    while time.monotonic() < end:
        try:
            got = holds()
        except StaleElementReferenceException:  # the page was loaded anew between finding a place and reading it
            got = None
        except Missing as place:  # between two pages there is neither the one nor the other
            got, missing = None, "; %s" % place
        if got:
            return got
        time.sleep(0.05)
    fail("not within %g s: %s%s" % (seconds, what, missing))


class Workshop:
    """A folder of runs with a page over it. Ends everything it began."""

    def __init__(self, tipwright):
        self.tipwright = tipwright
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="tipwright-page-"))
        self.work = self.folder / "work"
        self.work.mkdir()
        self.began = []
        self.environment = dict(os.environ, TIPWRIGHT_SETTINGS="", HOME=str(self.folder))
        self.url = ""
        self.page = None

    def __enter__(self):
        return self

    def __exit__(self, *ignored):
        for process in reversed(self.began):
            if process.poll() is None:
                process.send_signal(signal.SIGINT)
                try:
                    process.wait(15)
                except subprocess.TimeoutExpired:
                    process.kill()
                    process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def run(self, *words, **more):
        """To its end; gives what it says."""
        done = subprocess.run([self.tipwright, *map(str, words)], env=self.environment, text=True,
                              stdin=subprocess.DEVNULL, capture_output=True, **more)
        check(done.returncode == 0, "%s: %s%s" % (" ".join(map(str, words)), done.stdout, done.stderr))
        return done.stdout

    def begin(self, *words):
        process = subprocess.Popen([self.tipwright, *map(str, words)], env=self.environment, text=True,
                                   stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                   stderr=subprocess.DEVNULL)
        self.began.append(process)
        return process

    def calibrate(self, name, gauge="demo-bucket-200-twin", plan="three-point-check", speed=20, seed=1):
        return self.begin("calibrate", "--bench", "virtual-bench", "--gauge", gauge, "--plan", plan, "--speed",
                          speed, "--seed", seed, "--out", self.work / name)

    def serve(self, *more, port="0"):
        self.page = subprocess.Popen(
            [self.tipwright, "--json", "page", *map(str, more or (self.work,)), "--port", port],
            env=self.environment, text=True, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE)
        self.began.append(self.page)
        self.said = json.loads(self.page.stdout.readline())
        self.url = self.said["url"]
        return self.url

    def next_said(self):
        """What the page says next at its terminal."""
        return json.loads(self.page.stdout.readline())

    def facts(self, path="api/1/runs"):
        with urllib.request.urlopen(self.url + path, timeout=10) as answer:
            return json.load(answer)

    def trial_work(self):
        """Where the trial has its runs: it says so when it begins."""
        return pathlib.Path(self.said["runs"])

    def years_are_there(self):
        """The last thing that the trial enters in its register is an order."""
        with urllib.request.urlopen(self.url + "years/gauge?serial=INV-200-0003", timeout=10) as answer:
            return "dusty funnel" in answer.read().decode()

    def journal_text(self, run):
        """Of a run of the trial."""
        return (self.trial_work() / run / "journal.twj").read_text(errors="replace")

    def journal_holds(self, name, text):
        journal = self.work / name / "journal.twj"
        return journal.exists() and text in journal.read_text(errors="replace")


class Browser:
    def __init__(self, language="en", script=True, dark=False, still=False, trusting=False):
        """`trusting`: takes a certificate that nobody vouches for."""
        options = webdriver.ChromeOptions()
        options.accept_insecure_certs = trusting
        options.binary_location = shutil.which("chromium")
        for word in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
                     "--hide-scrollbars", "--no-first-run", "--disable-extensions", "--lang=" + language,
                     "--accept-lang=" + language):
            options.add_argument(word)
        if dark:
            options.add_argument("--force-dark-mode")
        if still:
            options.add_argument("--force-prefers-reduced-motion")
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        if not script:
            options.add_experimental_option("prefs", {"profile.managed_default_content_settings.javascript": 2})
        self.driver = webdriver.Chrome(service=Service(shutil.which("chromedriver")), options=options)
        self.driver.set_page_load_timeout(60)

    def __enter__(self):
        return self

    def __exit__(self, *ignored):
        self.driver.quit()

    def width(self, px, height=900):
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": px, "height": height, "deviceScaleFactor": 1, "mobile": px < 600})

    def dark(self, on):
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {
            "features": [{"name": "prefers-color-scheme", "value": "dark" if on else "light"}]})

    def open(self, url):
        self.driver.get(url)

    def log_in(self, url, person, passphrase):
        self.open(url + "log-in?next=/certificates")
        Select(self.one("select[name=person]")).select_by_value(person)
        self.one("input[name=passphrase]").send_keys(passphrase)
        self.one("main form button").click()
        # A passphrase takes its time: whoever opens another page meanwhile is not logged in.
        until("the answer to the log-in", lambda: "log-in?next" not in self.driver.current_url)

    def all(self, selector):
        return self.driver.find_elements(By.CSS_SELECTOR, selector)

    def one(self, selector):
        found = self.all(selector)
        if not found:
            raise Missing("FAILED: nothing on %s is %s" % (self.driver.current_url, selector))
        return found[0]

    def text(self, selector):
        return self.one(selector).text

    def ask_lang(self):
        """Asked of the document itself, for a page without script."""
        return self.one("html").get_attribute("lang")

    def ask(self, script):
        return self.driver.execute_script(script)

    def picture(self, file):
        """The whole page, not only what fits."""
        size = self.driver.execute_cdp_cmd("Page.getLayoutMetrics", {})["cssContentSize"]
        import base64
        taken = self.driver.execute_cdp_cmd("Page.captureScreenshot", {
            "captureBeyondViewport": True,
            "clip": {"x": 0, "y": 0, "width": size["width"], "height": min(size["height"], 8000), "scale": 1}})
        pathlib.Path(file).write_bytes(base64.b64decode(taken["data"]))

    def complaints(self):
        """What the browser refused or could not do: scripts stopped by the page's policy, files missing."""
        return [entry["message"] for entry in self.driver.get_log("browser")
                if entry["level"] in ("SEVERE", "WARNING")]

    def check_layout(self, where):
        """Nothing runs out at the side, everything to be touched is large enough, nothing lies on a button."""
        wide = self.ask("return [document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        check(wide[0] <= wide[1], "%s is %d px wide where %d fit" % (where, *wide))
        small = self.ask("""
            const out = [];
            for (const one of document.querySelectorAll(
                   "button, .button, nav a, input:not([type=hidden]), select, textarea, summary, .languages a, h2 a")) {
              const box = one.getBoundingClientRect();
              if (box.width === 0 || getComputedStyle(one).visibility === "hidden") continue;
              if (one.matches("input[type=checkbox], input[type=radio]")) continue;
              if (Math.min(box.width, box.height) < arguments[0] - 0.01)
                out.push(one.outerHTML.slice(0, 80) + " " + box.width + "x" + box.height);
            }
            return out;""".replace("arguments[0]", str(GLOVE_PX)))
        check(not small, "%s: too small for a glove: %s" % (where, "; ".join(small)))
        self.check_letters(where)

    def check_letters(self, where):
        """Charts are read (subscripts are smaller than the letters they belong to); a choice is not cut off."""
        tiny = self.ask("""
            const out = [];
            for (const one of document.querySelectorAll("svg.chart text")) {
              if (!one.getClientRects().length) continue;
              const size = parseFloat(one.getAttribute("font-size"));
              const seen = size * one.getScreenCTM().a || size * Math.abs(one.getScreenCTM().b);
              if (size >= 7 && seen < 12) out.push(one.textContent + " " + seen.toFixed(1) + " px");
            }
            return out;""")
        check(not tiny, "%s: letters of a chart are not read: %s" % (where, "; ".join(tiny[:5])))
        cut = self.ask("""
            const out = [];
            const pen = document.createElement("canvas").getContext("2d");
            for (const list of document.querySelectorAll("select")) {
              if (!list.getClientRects().length || !list.selectedOptions.length) continue;
              const text = list.selectedOptions[0].textContent;
              pen.font = getComputedStyle(list).font;
              const looks = getComputedStyle(list);
              const room = list.clientWidth - parseFloat(looks.paddingLeft) - parseFloat(looks.paddingRight);
              const below = list.parentElement.querySelector(".chosen");
              const told = below && below.getClientRects().length && below.textContent === text;
              if (pen.measureText(text).width > room && !told) out.push(text);
            }
            return out;""")
        check(not cut, "%s: cut off in its list: %s" % (where, "; ".join(cut)))
