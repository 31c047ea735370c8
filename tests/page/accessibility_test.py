#!/usr/bin/python3
"""Every screen of `page --trial` held against WCAG 2.2, levels A and AA, by axe-core (npm, for tests alone; pinned in
axe/package-lock.json): at 360, 768 and 1920 px, by day and dark, in four languages. Argument: the program. Exit code
77 (skipped) where axe-core cannot be had."""

import pathlib
import shutil
import subprocess
import sys

from browser import Browser, Workshop, check, quietly, until

PASSPHRASE = "rain on a tin roof"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def rules():
    home = pathlib.Path(sys.argv[1]).resolve().parent / "axe-core"
    script = home / "node_modules/axe-core/axe.min.js"
    if not script.exists():
        if not shutil.which("npm"):
            print("skipped: npm is not installed")
            sys.exit(77)
        home.mkdir(exist_ok=True)
        for file in (pathlib.Path(__file__).resolve().parent / "axe").iterdir():
            shutil.copy(file, home)
        done = subprocess.run(["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"], cwd=home, text=True,
                              capture_output=True, timeout=300)
        if done.returncode != 0 or not script.exists():
            print("skipped: axe-core cannot be had: " + done.stderr.strip().splitlines()[-1:][0] if done.stderr else "")
            sys.exit(77)
    return script.read_text()


def violations(browser, axe):
    browser.driver.execute_script(axe)
    found = browser.driver.execute_async_script("""
        const done = arguments[arguments.length - 1];
        axe.run(document, {runOnly: {type: "tag", values: arguments[0]}, iframes: false}).then(
          (result) => done(result.violations.map((one) =>
            one.id + ": " + one.help + " at " + one.nodes.map((node) => node.target.join(" ")).join(", "))),
          (error) => done(["axe failed: " + error]));""", TAGS)
    return found


def look(browser, axe, shop, path, width, dark, language="en"):
    browser.width(width)
    browser.dark(dark)
    browser.open(shop.url + "language?to=%s" % language)
    browser.open(shop.url + path)
    where = "/%s at %d px%s in %s" % (path, width, ", dark" if dark else "", language)
    browser.check_layout(where)
    return ["%s: %s" % (where, one) for one in violations(browser, axe)]


axe = rules()
with Workshop(sys.argv[1]) as shop:
    shop.serve("--trial")
    with Browser() as browser:
        until("three lanes", lambda: len(shop.facts()["runs"]) == 3)
        # A rule that cannot fail proves nothing: this page breaks two of them.
        browser.open(shop.url)
        browser.driver.execute_script("""
            const main = document.querySelector("main");
            main.innerHTML = "<img src=x><p>too faint to be read by anybody</p>";
            main.lastChild.style.color = "#777";
            main.lastChild.style.backgroundColor = "#666";""")
        broken = violations(browser, axe)
        check(any("image-alt" in one for one in broken) and any("color-contrast" in one for one in broken),
              "axe finds nothing on a broken page: %s" % broken)
        until("the invented years", lambda: quietly(shop.years_are_there), 900)
        wrong = []
        for path in ("log-in", "certificates", "gauge-on?serial=INV-150-0001", "no-such-page"):
            wrong += look(browser, axe, shop, path, 360, False)
        browser.log_in(shop.url, "A. Signatory", PASSPHRASE)
        browser.open(shop.url + "certificates")
        number = browser.one('a[href^="/certificates/issued/"]').get_attribute("href").rsplit("/", 1)[1]
        run = shop.facts()["runs"][0]["run"]
        paths = ["", "run/" + run, "gauge-on", "gauge-on?serial=INV-200-0003", "certificates",
                 "certificates/issued/" + number, "years", "years/gauge?serial=INV-200-0003",
                 "years?instrument=INV-BAL-11&from=2000-01-01&to=2099-12-31", "field-check",
                 "field-check?serial=INV-200-0003"]
        for path in paths:
            for width in (360, 768, 1920):
                for dark in (False, True):
                    wrong += look(browser, axe, shop, path, width, dark)
            for language in ("de", "fr", "es"):
                wrong += look(browser, axe, shop, path, 360, False, language)
        check(not wrong, "WCAG 2.2 AA: " + "\n".join(wrong))
print("all checks passed")
