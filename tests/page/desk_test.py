#!/usr/bin/python3
"""The whole job clicked in a real browser over `page --trial`: logged in, a gauge put on, water started, the
certificate drafted, checked by a second person, issued, handed out; the years. Argument: the program."""

import datetime
import json
import subprocess
import sys
import urllib.request

from browser import Browser, Workshop, check, quietly, until
from selenium.webdriver.support.ui import Select

PASSPHRASE = "rain on a tin roof"
SERIAL = "INV-150-0001"
WIDTHS = (360, 768, 1920)


def log_in(shop, browser, person, passphrase=PASSPHRASE):
    browser.log_in(shop.url, person, passphrase)


def look_at(shop, browser, path):
    for width in WIDTHS:
        browser.width(width)
        browser.open(shop.url + path)
        browser.check_layout("/%s at %d px" % (path, width))
    browser.width(768)


def click(browser, action):
    browser.one('form[action$="%s"] button' % action).click()


def put_on(shop, browser):
    """By its serial number, as a scanner types it: with Enter."""
    browser.open(shop.url + "gauge-on")
    check(browser.ask("return document.activeElement.name") == "serial", "the cursor is not where the scanner types")
    browser.one("input[name=serial]").send_keys(SERIAL + "\n")
    text = until("the gauge's facts", lambda: SERIAL in browser.text("main h2") and browser.text("main"))
    for word in ("Gaugewick", "INV-BAL-11", "at least"):
        check(word in text, "%s is not said before water flows" % word)
    check(browser.all("svg.chart"), "no picture of its last curve")
    browser.width(360)
    plan = Select(browser.one("select[name=plan]"))
    for option in [one.get_attribute("value") for one in plan.options]:
        plan.select_by_value(option)
        browser.check_letters("the plan " + option)
    browser.width(768)
    browser.open(shop.url + "gauge-on?state=left&serial=" + SERIAL + "&plan=three-point-check")
    # What was looked at is what is started: after a change above it is looked at again.
    begin = browser.one('form[action$="/gauge-on/start"] button')
    card = browser.text("main")
    check("Three-point check" in card, "what will be started is not said where it is started")
    plan = Select(browser.one("select[name=plan]"))
    check(begin.is_enabled() and "Press" not in card, "the start is barred before anything was changed")
    plan.select_by_value("ten-rate")
    check(not begin.is_enabled(), "another plan than the one shown could be started")
    check("Show what will happen” again" in browser.text("main"), "nobody says why the start is barred")
    plan.select_by_value("three-point-check")
    check(begin.is_enabled(), "the start stays barred after the change was taken back")
    Select(browser.one("select[name=side_up]")).select_by_value("A")
    click(browser, "/gauge-on/start")
    until("its run", lambda: "/run/" in browser.driver.current_url, 30)
    return browser.driver.current_url.split("/run/")[1]


def state_of(shop, run):
    return shop.facts("api/1/runs/" + run)["stand"]


def gone_on_with(shop, browser, run):
    """Stopped by a tap, gone on with by another; killed, and gone on with again: no terminal is needed."""
    until("water", lambda: "to=collect" in shop.journal_text(run), 180)
    browser.open(shop.url + "gauge-on?serial=" + SERIAL)
    check("being measured now" in browser.text("#ahead"), "a gauge under water can be put on once more")
    browser.open(shop.url + "run/" + run)
    browser.one("form.stop button").click()
    until("what the stop did", lambda: "stop" in browser.text(".told").lower())
    until("stopped", lambda: state_of(shop, run) == "broken_off", 30)
    for ended in ("stopped", "killed"):
        browser.open(shop.url + "gauge-on?state=left&serial=" + SERIAL)
        browser.one('#ahead a[href$="#next"]').click()
        until("its run", lambda: browser.all('form[action="/recover"]'))
        check(bool(browser.all("input[value=close]")) == (ended == "killed"), "closing is offered to a closed run")
        browser.one('form[action="/recover"] button').click()
        until("it goes on", lambda: state_of(shop, run) == "running", 30)
        if ended == "stopped":
            subprocess.run(["pkill", "-KILL", "-f", "recover .*" + SERIAL], check=True)
            until("its program gone", lambda: state_of(shop, run) == "abandoned", 30)


def given_up(shop, browser):
    """Killed and closed at the page: the gauge is free for another run."""
    browser.open(shop.url + "gauge-on?state=found&serial=INV-150-0001&plan=three-point-check")
    click(browser, "/gauge-on/start")
    until("its run", lambda: "/run/" in browser.driver.current_url, 30)
    run = browser.driver.current_url.split("/run/")[1]
    subprocess.run(["pkill", "-KILL", "-f", "calibrate .*" + run], check=True)
    until("its program gone", lambda: state_of(shop, run) == "abandoned", 30)
    browser.open(shop.url + "run/" + run)
    browser.driver.execute_script("document.querySelector('input[value=close]').form.querySelector('button').click()")
    until("closed", lambda: state_of(shop, run) == "broken_off", 30)
    browser.open(shop.url + "gauge-on?state=found&serial=INV-150-0001&plan=three-point-check")
    check(browser.all('form[action="/gauge-on/start"]'), "a closed run still bars its gauge: " + browser.text("#ahead"))


def turns(shop, browser, run):
    """What to turn, once it is said how much a turn brings and how well that is known."""
    browser.open(shop.url + "adjust?run=" + run)
    browser.one("input[name=per_turn]").send_keys("0.3")
    browser.one("input[name=per_turn_u]").send_keys("0.03")
    browser.one('form[action="/adjust"] button').click()
    until("the turns", lambda: "per_turn_u=0.03" in browser.driver.current_url and browser.all(".do"))
    told = [one.text for one in browser.all(".do")]
    check(all("CLOCKWISE" in text or "stay" in text for text in told), "turns: %s" % told)
    # Somebody said at the start which side rested up: the screws have the names of what can be touched.
    names = [one.text for one in browser.all(".turn h2")]
    browser.one("input[name=turns_a]").send_keys("-0,25")
    click(browser, "/adjust/turned")
    until("as left", lambda: "state=left" in browser.driver.current_url)
    browser.open(shop.url + "years/gauge?serial=" + SERIAL)
    check("screw of A −0.25 turns" in browser.text("main"), "the turns are not in its life: " + browser.text("main"))
    check(len(names) == 2 and "Stop screw A (at the screw nearest the terminal block)" in names, "screws: %s" % names)


def certificate(shop, browser, run):
    ended = until("the end of the run", lambda: state_of(shop, run) not in ("running", "begins") and
                  shop.facts("api/1/runs/" + run), 400)
    check(ended["stand"] == "complete", "the run has ended: %s, %s" % (ended["stand"], ended["fault"]))
    until("its record", lambda: (shop.trial_work() / run / "record.json").exists(), 30)
    record = json.loads((shop.trial_work() / run / "record.json").read_text())
    verdict = until("its verdict", lambda: shop.facts("api/1/runs/" + run)["verdict"], 60)
    check(verdict == record["evaluation"]["conformity"]["overall"], "the lane says %s" % verdict)
    browser.open(shop.url + "run/" + run)
    source = browser.driver.page_source
    check("measured, as left" in source and "measured, as found" not in source, "its curve does not say as left")
    turns(shop, browser, run)
    browser.open(shop.url + "certificates")
    browser.one('form[action="/certificates/draft"] input[name=serial]').send_keys(SERIAL)
    browser.one('form[action="/certificates/draft"] input[name=reason]').send_keys("a trial")
    click(browser, "/certificates/draft")
    until("the draft", lambda: "/certificates/draft/" in browser.driver.current_url, 60)
    draft = browser.driver.current_url
    look_at(shop, browser, draft.split("/", 3)[3])
    # Whoever drafted it does not check it, and is told who does.
    check(not browser.all('form[action$="/check"]'), "the drafter is offered the check of the own draft")
    check("A second person must check it" in browser.text("main"), "nobody says who checks it")
    log_in(shop, browser, "C. Checker")
    browser.open(draft)
    click(browser, "/check")
    until("checked", lambda: "C. Checker may not issue" in browser.text("main"))
    check(not browser.all('form[action$="/issue"]'), "the issue is offered to somebody who may not")
    log_in(shop, browser, "A. Signatory")
    browser.open(draft)
    browser.one("input[name=seal]").send_keys("not the passphrase")
    click(browser, "/issue")
    until("the refusal of a wrong passphrase", lambda: "not done" in browser.text("h1"))
    browser.open(draft)
    browser.one("input[name=seal]").send_keys(PASSPHRASE)
    browser.one('form[action$="/issue"] input[name=reason]').send_keys("a trial")
    click(browser, "/issue")
    until("issued", lambda: "/certificates/issued/" in browser.driver.current_url, 60)
    issued = browser.driver.current_url
    files = [one.text for one in browser.all(".ways a")]
    check("certificate.pdf" in files and "record.json" in files, "files: %s" % files)
    with urllib.request.urlopen(issued + "/certificate.pdf") as answer:
        check(answer.read(5) == b"%PDF-", "the certificate is no PDF")
    look_at(shop, browser, issued.split("/", 3)[3])


def years(shop, browser):
    look_at(shop, browser, "years")
    check("INV-200-0003" in browser.text("main"), "nothing is due in the trial's register")
    with urllib.request.urlopen(shop.url + "years/due.ics") as answer:
        check(answer.read().startswith(b"BEGIN:VCALENDAR\r\n"), "no calendar")
    look_at(shop, browser, "years/gauge?serial=INV-200-0003")
    check(len(browser.all("figure")) == 2, "curves over each other and drift: %d pictures" % len(browser.all("figure")))
    told = browser.text("main")
    check(" mm/h since " in told, "how far it moved is told without the rate: " + told)
    browser.open(shop.url + "years")
    overdue = [row.text for row in browser.all("tr") if "overdue" in row.text]
    check(all("⚠" in row for row in overdue) and overdue, "nothing is marked as overdue: %s" % overdue)
    browser.open(shop.url + "years?instrument=INV-BAL-11&from=2000-01-01&to=2099-12-31")
    check(browser.all('a[href^="/certificates/issued/"]'), "no certificate is recalled by the balance")
    for language in ("de", "fr", "es"):
        browser.open(shop.url + "language?to=%s&back=/years" % language)
        look_at(shop, browser, "gauge-on?serial=" + SERIAL)
        look_at(shop, browser, "certificates")
    browser.open(shop.url + "language?to=en&back=/")


def found_faulty(shop, browser):
    """What no certificate could rest on is told before the water is poured, not after."""
    secret = shop.folder / "passphrase"
    secret.write_text(PASSPHRASE + "\n")
    secret.chmod(0o600)
    now = datetime.datetime.now(datetime.timezone.utc).date()
    today, before = now.isoformat(), (now - datetime.timedelta(days=1)).isoformat()
    shop.run("register", "instrument", "failed", "INV-BAL-11", "--good-until", before, "--found-on", today, "--found",
             "0.3 g low", "--register", shop.trial_work().parent / "register", "--person", "A. Signatory",
             "--person-passphrase-file", secret)
    browser.open(shop.url + "gauge-on?state=found&serial=" + SERIAL + "&plan=three-point-check")
    told = browser.text("#ahead")
    check("INV-BAL-11, found faulty on " + today in told, "a faulty balance is not told before the start: " + told)
    check(not browser.all('form[action="/gauge-on/start"]'), "a run that could not be certified can be started")
    browser.open(shop.url + "years")
    check(today in browser.text("main"), "the list of instruments does not say that one is faulty")


with Workshop(sys.argv[1]) as shop:
    shop.serve("--trial")
    with Browser() as browser:
        until("three lanes", lambda: len(shop.facts()["runs"]) == 3)
        browser.open(shop.url)
        check(len(browser.all(".tile")) == 3, "three lanes are not three tiles")
        until("the invented years", lambda: quietly(shop.years_are_there), 600)
        log_in(shop, browser, "A. Signatory", "wrong")
        check(browser.all("[role=alert]") and not browser.all("button.plain"), "a wrong passphrase logs in")
        log_in(shop, browser, "A. Signatory")
        until("logged in", lambda: browser.all('form[action="/log-out"]'))
        given_up(shop, browser)
        run = put_on(shop, browser)
        gone_on_with(shop, browser, run)
        years(shop, browser)
        certificate(shop, browser, run)
        found_faulty(shop, browser)
        click(browser, "/log-out")
        browser.open(shop.url + "certificates")
        check(not browser.all('form[action="/certificates/draft"]'), "commands are offered to nobody")
        complaints = [line for line in browser.complaints() if "409" not in line and "403" not in line]
        check(not complaints, "the browser complains: %s" % complaints)
print("all checks passed")
