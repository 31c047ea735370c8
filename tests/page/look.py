#!/usr/bin/python3
"""Takes a picture of each screen, to be looked at: at three widths, by day and dark, in four languages.
Arguments: the program, the folder for the pictures, [PATH...] (default: bench and one run)."""

import pathlib
import sys

from browser import Browser, Workshop, until

tipwright, out, *paths = sys.argv[1:]
out = pathlib.Path(out)
out.mkdir(parents=True, exist_ok=True)
with Workshop(tipwright) as shop, Browser() as browser:
    shop.run("calibrate", "--bench", "virtual-bench", "--gauge", "demo-siphon-200", "--plan", "three-point-check",
             "--out", shop.work / "right")
    shop.calibrate("left")
    shop.calibrate("middle", gauge="demo-magnet-spoon-160", seed=3)
    shop.serve()
    until("two points", lambda: shop.journal_holds("left", "did=close") and
          shop.journal_holds("left", "step=2"), 200)
    for path in paths or ["", "run/left", "run/right", "run/nothing"]:
        for width in (360, 768, 1920):
            for dark in (False, True):
                for language in ("en", "de", "fr", "es") if not dark else ("en",):
                    browser.width(width)
                    browser.dark(dark)
                    browser.open(shop.url + "language?to=%s&back=/%s" % (language, path))
                    name = (path.replace("/", "-") or "bench") + "-%d-%s%s.png" % (width, language,
                                                                                "-dark" if dark else "")
                    browser.picture(out / name)
                    print(out / name)
    print("\n".join(browser.complaints()))
