#!/usr/bin/python3
"""The bench's screen in a real browser, over a run of the shipped program: tips arrive by themselves, a lane is
stopped by a tap, at three widths, with keys alone, without script. Argument: the program."""

import json
import sys

from browser import Browser, Workshop, check, until
from selenium.webdriver.common.keys import Keys

WIDTHS = (360, 768, 1920)


def shown(browser, name):
    places = browser.all('[data-k$=".%s"]' % name)
    return places[0].get_attribute("textContent") if places else ""


def watches(shop, browser):
    """Tips, error and the bar move without anybody loading the page again."""
    browser.open(shop.url)
    until("the stream of events", lambda: browser.ask("return document.body.dataset.live") == "1")
    browser.ask("window.sameDocument = true")
    first = until("tips", lambda: int(shown(browser, "tips1") or 0))
    until("more tips", lambda: int(shown(browser, "tips1") or 0) > first)
    until("an error", lambda: shown(browser, "error") not in ("", "–"), 240)
    check(browser.ask("return window.sameDocument") is True, "the page loaded itself anew")
    told = int(shown(browser, "tips1"))
    facts = shop.facts()["runs"][0]
    check(abs(facts["contact_tips"][0] - told) <= 3, "page %d tips, API %s" % (told, facts["contact_tips"]))


def fits(shop, browser):
    for path in ("", "run/left", "no-such-page"):
        for width in WIDTHS:
            for dark in (False, True):
                browser.width(width)
                browser.dark(dark)
                browser.open(shop.url + path)
                browser.check_layout("/%s at %d px" % (path, width))
    for language in ("de", "fr", "es"):
        browser.open(shop.url + "language?to=%s&back=/run/left" % language)
        check(browser.ask("return document.documentElement.lang") == language, "no page in " + language)
        for width in WIDTHS:
            browser.width(width)
            browser.check_layout("/run/left in %s at %d px" % (language, width))
    browser.open(shop.url + "language?to=en&back=/")


def keys_alone(shop, browser):
    """The skip link comes first, and Tab reaches the button that stops everything, which then shows that it is meant."""
    browser.width(768)
    browser.open(shop.url)
    seen = []
    for _ in range(30):
        browser.driver.switch_to.active_element.send_keys(Keys.TAB)
        at = browser.driver.switch_to.active_element
        seen.append((at.get_attribute("class") or "") + " " + at.text)
        if "stop" in seen[-1]:
            break
    check(seen[0].startswith("skip"), "Tab goes first to " + seen[0])
    check("stop" in seen[-1], "no key reaches the stop: %s" % seen)
    outline = browser.ask("return getComputedStyle(document.activeElement).outlineStyle")
    check(outline not in ("none", ""), "the button in hand is not marked")


def stops(shop, browser, lane):
    browser.open(shop.url + "run/" + lane)
    browser.one("form.stop button").click()
    until("the bench", lambda: browser.ask("return document.body.dataset.live") == "1" and not browser.all(".pictures"))
    browser.ask("window.sameDocument = true")
    until(lane + " closed", lambda: shop.journal_holds(lane, "complete=false"), 30)
    until("no stop of a lane that has ended", lambda: not browser.all('form[action="/run/%s/stop"]' % lane))
    check(browser.ask("return window.sameDocument") is True, "the page was loaded anew to know that a lane has ended")


def came_out(shop, browser):
    """A complete lane says what came out, as its record has it; one that was stopped says in Spanish what to do."""
    record = json.loads((shop.work / "right" / "record.json").read_text())
    browser.open(shop.url + "run/right")
    told = until("the verdict", lambda: browser.ask("return document.body.dataset.live") == "1" and
                 shown(browser, "verdict").lstrip().startswith(("✔", "✘", "?", "–")) and shown(browser, "verdict"), 30)
    facts = shop.facts("api/1/runs/right")
    check(facts["verdict"] == record["evaluation"]["conformity"]["overall"] and
          facts["verdict_claim"] == record["statement"]["verdict"], "the API says %s" % facts["verdict"])
    words = {"pass": "Meets the limits", "fail": "Does not meet the limits", "undecided": "No decision",
             "not_stated": "No verdict", "no_limit": "No limits"}[facts["verdict"]]
    check(words in told, "the tile says %r of a run that came out %s" % (told, facts["verdict"]))
    browser.open(shop.url + "language?to=es&back=/run/left")
    hand = browser.text(".tile .hand")
    check("se continúa" in hand and "detenido por el operador" in hand, "in Spanish it says: " + hand)
    browser.open(shop.url + "language?to=en&back=/")


def without_script(shop):
    with Browser(script=False) as browser:
        browser.open(shop.url)
        tips = int(shown(browser, "tips1"))
        browser.one('a[href="/run/right"]').click()
        check(browser.all("svg.chart"), "no picture without script")
        browser.open(shop.url)
        until("more tips on a page that loads itself", lambda: int(shown(browser, "tips1") or 0) != tips, 30)
        browser.one("form.stop-all button").click()
        until("stopped without script", lambda: shop.journal_holds("middle", "complete=false"), 30)


with Workshop(sys.argv[1]) as shop:
    shop.run("calibrate", "--bench", "virtual-bench", "--gauge", "demo-siphon-200", "--plan", "three-point-check",
             "--out", shop.work / "right")
    lanes = [shop.calibrate("left", plan="ten-rate", speed=8), shop.calibrate("middle", plan="ten-rate", speed=8, seed=2)]
    shop.serve()
    until("the runs", lambda: len(shop.facts()["runs"]) == 2)
    until("water flows", lambda: all(shop.journal_holds(name, "to=collect") for name in ("left", "middle")), 120)
    with Browser() as browser:
        watches(shop, browser)
        fits(shop, browser)
        keys_alone(shop, browser)
        stops(shop, browser, "left")
        check(lanes[0].wait(30) == 130, "the stopped run ends with another code than Ctrl-C gives")
        check(lanes[1].poll() is None, "the other lane was stopped too")
        came_out(shop, browser)
        complaints = [line for line in browser.complaints() if "no-such-page" not in line]
        check(not complaints, "the browser complains: %s" % complaints)
    without_script(shop)
    # The page is killed: what runs does not notice.
    third = shop.calibrate("third", plan="ten-rate", speed=8, seed=3)
    until("the third run", lambda: shop.journal_holds("third", "to=prime"))
    shop.page.kill()
    shop.page.wait()
    check(third.poll() is None, "the run ended with the page")
print("all checks passed")
