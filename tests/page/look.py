#!/usr/bin/python3
"""Takes a picture of each screen, to be looked at: at three widths, by day and dark, in four languages.
Arguments: the program, the folder for the pictures, [PATH...] (default: bench and one run). The path --trial stands
for all screens of `page --trial`, somebody logged in."""

import pathlib
import sys

from browser import Browser, Workshop, quietly, until

WIDTHS = (360, 768, 1920)
TRIAL = ["log-in", "", "gauge-on", "gauge-on?serial=INV-200-0003", "certificates", "years",
         "years/gauge?serial=INV-200-0003", "certificates/issued/"]


def take(shop, browser, out, paths, languages):
    for path in paths:
        for width in WIDTHS:
            for dark in (False, True):
                for language in languages if not dark else ("en",):
                    browser.width(width)
                    browser.dark(dark)
                    browser.open(shop.url + "language?to=%s" % language)
                    browser.open(shop.url + path)
                    place = "".join(c if c.isalnum() else "-" for c in path) or "bench"
                    browser.picture(out / ("%s-%d-%s%s.png" % (place, width, language, "-dark" if dark else "")))
    print("\n".join(browser.complaints()))


def look(shop, browser, out, paths):
    shop.run("calibrate", "--bench", "virtual-bench", "--gauge", "demo-siphon-200", "--plan", "three-point-check",
             "--out", shop.work / "right")
    shop.calibrate("left")
    shop.calibrate("middle", gauge="demo-magnet-spoon-160", seed=3)
    shop.serve()
    until("two points", lambda: shop.journal_holds("left", "did=close") and
          shop.journal_holds("left", "step=2"), 200)
    take(shop, browser, out, paths or ["", "run/left", "run/right", "run/nothing"], ("en", "de", "fr", "es"))


def look_at_trial(shop, browser, out):
    shop.serve("--trial")
    until("the invented years", lambda: quietly(shop.years_are_there), 600)
    take(shop, browser, out, TRIAL[:1], ("en",))
    browser.log_in(shop.url, "A. Signatory", "rain on a tin roof")
    browser.open(shop.url + "certificates")
    number = browser.one('a[href^="/certificates/issued/"]').get_attribute("href").rsplit("/", 1)[1]
    runs = [run["run"] for run in shop.facts()["runs"]]
    take(shop, browser, out, TRIAL[1:-1] + [TRIAL[-1] + number, "run/" + runs[0]], ("en", "de"))


tipwright, out, *paths = sys.argv[1:]
out = pathlib.Path(out)
out.mkdir(parents=True, exist_ok=True)
with Workshop(tipwright) as shop, Browser() as browser:
    if paths == ["--trial"]:
        look_at_trial(shop, browser, out)
    else:
        look(shop, browser, out, paths)
