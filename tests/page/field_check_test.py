#!/usr/bin/python3
"""A gauge checked in the field with a phone: tips counted by a thumb, the verdict, the gauge's life; off line the sheet
waits on the phone and is sent later, once; without script the form works on line. Arguments: the program, [a folder for
pictures]."""

import pathlib
import sys

from browser import Browser, Workshop, check, quietly, until
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select

PERSON = "A. Signatory"
SERIAL = "4711"


def logs_in(shop, browser):
    browser.open(shop.url + "log-in?next=/field-check")
    Select(browser.one("select[name=person]")).select_by_value(PERSON)
    browser.one("main form button").click()
    until("logged in", lambda: browser.all('form[action="/log-out"]'))


def fill(browser, note, tips=40, amount="251,3", limit="5"):
    """251.3 mL over 40 tips of 0.2 mm on 200 mm: hardly any error."""
    browser.one("input[name=serial]").clear()
    browser.one("input[name=serial]").send_keys(SERIAL)
    more = browser.all("[data-count]")
    if more and more[0].is_displayed():
        for _ in range(tips):
            more[0].click()
        check(browser.one("input[name=tips]").get_attribute("value") == str(tips), "the thumb counts otherwise")
    else:
        browser.one("input[name=tips]").send_keys(str(tips))
    browser.one("input[name=amount]").send_keys(amount)
    browser.one("input[name=limit]").send_keys(limit)
    browser.one("input[name=note]").send_keys(note)


def send(browser):
    browser.one('form[action="/field-check"] button:not([type=button])').click()


def in_life(shop, note):
    return shop.run("life", SERIAL, "--register", str(shop.register)).count(note)


def off_line(browser, on):
    browser.driver.execute_cdp_cmd("Network.enable", {})
    browser.driver.execute_cdp_cmd("Network.emulateNetworkConditions",
                                   {"offline": on, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1})


def picture(pictures, browser, name):
    if not pictures:
        return
    for width, dark in ((360, False), (360, True), (1920, False)):
        browser.width(width)
        browser.dark(dark)
        browser.picture(pictures / ("field-%s-%d%s.png" % (name, width, "-dark" if dark else "")))
    browser.width(360)
    browser.dark(False)


def on_the_phone(shop, pictures):
    with Browser() as browser:
        browser.width(360)
        logs_in(shop, browser)
        browser.check_layout("the field check")
        picture(pictures, browser, "sheet")
        fill(browser, "note one")
        send(browser)
        until("the verdict", lambda: "WITHIN" in browser.text("main"))
        check("not a certificate" in browser.text("main"), "a field check passes for a certificate")
        browser.check_layout("the verdict")
        picture(pictures, browser, "verdict")
        check(in_life(shop, "note one") == 1, "the check is not in the gauge's life")
        # An error beyond belief is asked for, and nothing that was typed is lost.
        browser.open(shop.url + "field-check")
        fill(browser, "note two", tips=20)
        send(browser)
        until("the question", lambda: browser.all("[role=alert]"))
        check(browser.one("input[name=note]").get_attribute("value") == "note two", "what was typed is lost")
        check(in_life(shop, "note two") == 0, "an error beyond belief is kept unasked")
        picture(pictures, browser, "asked")
        browser.one("input[name=accept]").send_keys("one contact was loose")
        send(browser)
        until("the verdict", lambda: "OUTSIDE" in browser.text("main"))
        check(in_life(shop, "note two") == 1, "what was accepted is not kept")
        # Off line it waits; on line it goes by itself, once.
        browser.open(shop.url + "field-check")
        off_line(browser, True)
        fill(browser, "note three")
        send(browser)
        waits = until("the sheet waits", lambda: browser.one("[data-waits]").is_displayed() and browser.text("[data-waits]"))
        check(": 1." in waits, "it says: " + waits)
        picture(pictures, browser, "waits")
        check(browser.one("input[name=tips]").get_attribute("value") == "", "the next sheet is not empty")
        off_line(browser, False)
        until("sent by itself", lambda: in_life(shop, "note three") == 1, 60)
        until("nothing waits", lambda: not browser.one("[data-waits]").is_displayed(), 30)
        # The page begun anew knows neither the log-in nor the word of the form: it waits until somebody logs in.
        port = shop.url.rstrip("/").rsplit(":", 1)[1]
        shop.page.kill()
        shop.page.wait()
        fill(browser, "note four")
        send(browser)
        until("the sheet waits", lambda: browser.one("[data-waits]").is_displayed())
        shop.serve(shop.work, "--register", str(shop.register), port=port)
        until("told to log in", lambda: "log in" in browser.text("[data-waits]"), 60)
        check(in_life(shop, "note four") == 0, "kept for nobody")
        logs_in(shop, browser)
        until("sent after the log-in", lambda: in_life(shop, "note four") == 1, 60)
        check(in_life(shop, "note three") == 1, "a sheet was kept twice")
        for language in ("de", "fr", "es"):
            browser.open(shop.url + "language?to=%s&back=/field-check" % language)
            browser.check_layout("the field check in " + language)
        complaints = [line for line in browser.complaints()
                      if not any(known in line for known in ("409", "ERR_INTERNET_DISCONNECTED", "ERR_CONNECTION"))]
        check(not complaints, "the browser complains: %s" % complaints)


def without_script(shop):
    with Browser(script=False) as browser:
        browser.width(360)
        logs_in(shop, browser)
        fill(browser, "note five")
        send(browser)
        until("the verdict", lambda: "WITHIN" in browser.text("main"))
        check(in_life(shop, "note five") == 1, "not kept without script")


with Workshop(sys.argv[1]) as shop:
    shop.register = shop.folder / "register"
    shop.run("register", "create", "--register", shop.register, "--person", PERSON)
    shop.run("register", "gauge", "add", SERIAL, "--model", "M", "--kind", "bucket-200-twin", "--register", shop.register,
             "--person", PERSON)
    shop.serve(shop.work, "--register", str(shop.register))
    on_the_phone(shop, pathlib.Path(sys.argv[2]) if len(sys.argv) > 2 else None)
    without_script(shop)
print("all checks passed")
