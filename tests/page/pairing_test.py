#!/usr/bin/python3
"""A tablet is paired in a real browser: over TLS, by the code that the terminal shows, once; then it sees the bench as it
goes on. Arguments: the program, [a folder for pictures]."""

import pathlib
import sys

from browser import Browser, Workshop, check, until

WIDTHS = (360, 768, 1920)
LANGUAGES = ("en", "de", "fr", "es")


def fits(shop, pictures):
    for language in LANGUAGES:
        with Browser(language=language, trusting=True) as browser:
            for width in WIDTHS:
                browser.width(width)
                browser.dark(width == 768)
                browser.open(shop.url)
                browser.check_layout("the pairing form at %d px in %s" % (width, language))
                if pictures:
                    browser.picture(pictures / ("pair-%d-%s.png" % (width, language)))
            check(browser.one("html").get_attribute("lang") == language, "no form in " + language)


with Workshop(sys.argv[1]) as shop:
    pictures = pathlib.Path(sys.argv[2]) if len(sys.argv) > 2 else None
    shop.environment["XDG_STATE_HOME"] = str(shop.folder / "state")
    run = shop.calibrate("left", plan="ten-rate", speed=8)
    shop.serve(shop.work, "--address", "0.0.0.0")
    port = shop.url.rstrip("/").rsplit(":", 1)[1]
    shop.url = "https://127.0.0.1:%s/" % port
    code = shop.said["pairing_code"]
    fits(shop, pictures)
    with Browser(trusting=True) as browser, Browser(script=False, trusting=True) as other:
        browser.open(shop.url + "run/left")
        check(not browser.all(".tile") and not browser.all("nav"), "a device that is not paired sees more than the form")
        browser.one("input[name=code]").send_keys("0000-0000")
        browser.one("input[name=name]").send_keys("tablet")
        browser.one("form button").click()
        until("the answer", lambda: browser.all("[role=alert]"))
        # As the camera opens the link of the square code.
        browser.open(shop.url + "pair?code=" + code)
        browser.one("input[name=name]").send_keys("tablet by the bench\n")
        until("the bench", lambda: browser.all(".tile"))
        until("the stream of events", lambda: browser.ask("return document.body.dataset.live") == "1")
        cookie = browser.driver.get_cookie("__Host-device")
        check(cookie["httpOnly"] and cookie["secure"] and cookie["sameSite"] == "Strict", "the cookie: %s" % cookie)
        other.open(shop.url + "pair?code=" + code)
        other.one("input[name=name]").send_keys("phone\n")
        until("the answer", lambda: other.all("[role=alert]"))
        check(not other.all(".tile"), "the same code pairs a second device")
        paired = until("the next code", shop.next_said)
        check(paired["paired"] == "tablet by the bench", "the terminal says %s" % paired)
        other.open(shop.url + "pair?code=" + paired["pairing_code"])
        other.one("input[name=name]").send_keys("phone\n")
        until("the bench without script", lambda: other.all(".tile"))
        other.one("form.stop-all button").click()
        until("stopped over the network", lambda: shop.journal_holds("left", "complete=false"), 60)
        check(run.wait(60) == 130, "the stopped run ends with another code than Ctrl-C gives")
        complaints = [line for line in browser.complaints() if "403" not in line]
        check(not complaints, "the browser complains: %s" % complaints)
print("all checks passed")
