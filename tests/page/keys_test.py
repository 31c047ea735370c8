#!/usr/bin/python3
"""The desk's screens by keyboard alone, and with JavaScript off: logged in, a gauge put on, the water started, a draft
made, sent on; each place that the keys reach is marked. Argument: the program."""

import sys

from browser import Browser, Workshop, check, quietly, until
from selenium.webdriver.common.keys import Keys

PASSPHRASE = "rain on a tin roof"
SERIAL = "INV-150-0001"
PLACES = 'a[href], button, input:not([type="hidden"]), select, textarea, [tabindex="0"]'


def press(browser, *keys):
    browser.driver.switch_to.active_element.send_keys(*keys)


def at(browser):
    return browser.driver.switch_to.active_element


def go_to(browser, what, is_there):
    """Tab until it is there; whatever is passed shows that it is meant."""
    for _ in range(120):
        press(browser, Keys.TAB)
        here = at(browser)
        if here.tag_name == "body":
            continue
        outline = browser.ask("const s = getComputedStyle(document.activeElement); "
                              "return s.outlineStyle + ' ' + parseFloat(s.outlineWidth)")
        style, width = outline.split()
        check(here.tag_name == "iframe" or (style != "none" and float(width) >= 2),
              "%s is not marked: %s" % (here.get_attribute("outerHTML")[:90], outline))
        if is_there(here):
            return here
    check(False, "no key reaches " + what)


def named(name):
    return lambda one: one.get_attribute("name") == name


def inside(action):
    return lambda one: one.tag_name == "button" and one.find_elements(
        "xpath", './ancestor::form[contains(@action, "%s")]' % action)


def logs_in(shop, browser, person):
    browser.open(shop.url + "log-in?next=/gauge-on")
    go_to(browser, "the person", named("person"))
    press(browser, person[0])
    check(at(browser).get_attribute("value") == person, "letters do not choose " + person)
    go_to(browser, "the passphrase", named("passphrase"))
    press(browser, PASSPHRASE, Keys.ENTER)
    until("logged in", lambda: "log-in?next" not in browser.driver.current_url and browser.all('form[action="/log-out"]'))


def reaches_all(shop, browser, path):
    """Everything that can be touched is reached, in the order in which it stands."""
    browser.open(shop.url + path)
    wanted = browser.ask("""return [...document.querySelectorAll('%s')].filter(
        (one) => one.getClientRects().length && !one.closest("[hidden]")).length""" % PLACES)
    browser.ask("document.activeElement.blur(); window.getSelection().removeAllRanges(); window.scrollTo(0, 0)")
    seen = set()
    for _ in range(3 * wanted + 20):
        press(browser, Keys.TAB)
        place = browser.ask("return [...document.querySelectorAll('%s')].indexOf(document.activeElement)" % PLACES)
        if place >= 0:
            seen.add(place)
    check(len(seen) >= wanted, "/%s: %d of %d places are reached by keys" % (path, len(seen), wanted))


def by_keys(shop, browser):
    logs_in(shop, browser, "A. Signatory")
    for path in ("", "gauge-on?serial=" + SERIAL, "certificates", "years", "years/gauge?serial=" + SERIAL, "field-check"):
        reaches_all(shop, browser, path)
    browser.open(shop.url + "gauge-on")
    check(at(browser).get_attribute("name") == "serial", "the cursor is not where the scanner types")
    press(browser, SERIAL, Keys.ENTER)
    until("the gauge's facts", lambda: browser.all('form[action$="/gauge-on/start"]'))
    go_to(browser, "the start", inside("/gauge-on/start"))
    press(browser, Keys.ENTER)
    until("its run", lambda: "/run/" in browser.driver.current_url, 30)
    run = browser.driver.current_url.split("/run/")[1]
    # Not that of everything; and where the run has ended meanwhile, words instead of a search without end.
    go_to(browser, "the stop of this lane", inside("/run/" + run + "/stop"))
    press(browser, Keys.ENTER)
    until("stopped by a key", lambda: shop.facts("api/1/runs/" + run)["stand"] != "running", 60)
    return run


def log_of(shop):
    return shop.run("register", "log", "--register", str(shop.trial_work().parent / "register"), "--last", "200")


def without_script(shop, run):
    with Browser(script=False) as browser:
        browser.log_in(shop.url, "C. Checker", PASSPHRASE)
        browser.open(shop.url + "gauge-on?serial=" + SERIAL + "&state=left&plan=three-point-check")
        browser.one('form[action$="/gauge-on/start"] button').click()
        until("its run", lambda: "/run/" in browser.driver.current_url, 30)
        second = browser.driver.current_url.split("/run/")[1]
        check(second != run, "the same run was begun again")
        until("water", lambda: shop.journal_text(second).count("given") > 10)
        check('name="C. Checker"' in shop.journal_text(second), "the run does not name who was logged in")
        browser.open(shop.url + "years/gauge?serial=" + SERIAL)
        check(browser.all("svg.chart"), "no picture of its life without script")
        browser.one('a[hreflang="de"]').click()
        check(browser.ask_lang() == "de", "no other language without script")
        browser.one('form[action="/log-out"] button').click()
        until("logged out without script",
              lambda: browser.all("main") and not browser.all('form[action="/log-out"]'))


with Workshop(sys.argv[1]) as shop:
    shop.serve("--trial")
    with Browser() as browser:
        until("the invented years", lambda: quietly(shop.years_are_there), 900)
        browser.width(1280)
        run = by_keys(shop, browser)
    without_script(shop, run)
    log = log_of(shop)
    for part in ("/gauge-on/start", "/run/" + run + "/stop", "127.0.0.1", "A. Signatory", "C. Checker", "/log-out"):
        check(part in log, "the audit log lacks %s:\n%s" % (part, log[-3000:]))
print("all checks passed")
