"""The page of every sample log in a real Chromium with the network off.

`report_page.py TOOLS` takes axe-core and html-validate from the npm folder TOOLS. `PLUGREAD_PICTURES=DIR` keeps pictures of
every page at every size, light, dark and on paper: they are there to be looked at.
"""

import os
import pathlib
import re
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))

from browser import Browser
from logged import Log
from readout import points, readout

HOME = pathlib.Path(__file__).resolve().parents[3]
PROGRAM = os.environ["PLUGREAD"]
PICTURES = os.environ.get("PLUGREAD_PICTURES")
TOOLS = pathlib.Path(sys.argv[1])
MOST_BYTES = 2_000_000
# Axe's rules of the standards, and its own of good practice.
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def pages(folder):
    """Each sample log with its sheet, one without, and several in one page: name, page, log."""
    logs = sorted((HOME / "sample-logs").glob("*.csv"))
    assert logs, "no sample logs"
    sheet = HOME / "sample-logs" / "hill-special.toml"
    poor = folder / "poor.csv"
    poor.write_text("Time (s),Aux 1,Aux 2\n" + "".join(f"{i / 10},{i % 7},{i % 3}\n" for i in range(200)), encoding="utf-8")
    hot = HOME / "sample-logs" / "hot-standstill.csv"
    wanted = [(log.stem, [log], ["--sheet", sheet], log) for log in logs]
    wanted.append(("without-a-sheet", [hot], [], None))
    wanted.append(("nothing-understood", [poor], [], None))
    wanted.append(("several", logs[:2], ["--sheet", sheet], None))
    # The coolant's limits put far down: a page with a stop.
    strict = folder / "strict.toml"
    limits = '\n[limits]\n"coolant-limit.stop_margin" = "30 degC difference"\n"coolant-limit.margin" = "35 degC difference"\n'
    strict.write_text(sheet.read_text(encoding="utf-8") + limits, encoding="utf-8")
    wanted.append(("with-a-stop", [hot], ["--sheet", strict], None))
    wanted.append(("half-an-hour", [half_an_hour(folder)], ["--sheet", sheet], None))
    for name, given, more, log in wanted:
        page = folder / f"{name}.html"
        made = subprocess.run([PROGRAM, "review", *given, *more, "--format", "html", "--out", page], capture_output=True, text=True)
        assert made.returncode in (0, 1), made.stderr
        yield name, page, log


def half_an_hour(folder):
    """A hill run over and over for 30 minutes: with its restarts, more warns in it than in any log that is kept here."""
    head, rows = [], []
    for line in (HOME / "sample-logs" / "hill-run-knock.csv").read_text(encoding="utf-8").splitlines():
        start = line.split(",", 1)[0]
        (rows if start.replace(".", "").isdigit() else head).append(line)
    step = float(rows[-1].split(",", 1)[0])
    out, turn = [*head], 0
    while turn * step < 1800:
        out += [f"{float(row.split(',', 1)[0]) + turn * step:.2f},{row.split(',', 1)[1]}" for row in rows]
        turn += 1
    file = folder / "half-an-hour.csv"
    file.write_text("\n".join(out) + "\n", encoding="utf-8")
    return file


def valid(files):
    """The markup, by html-validate."""
    config = pathlib.Path(__file__).with_name("htmlvalidate.json")
    out = subprocess.run(
        ["node", TOOLS / "node_modules" / "html-validate" / "bin" / "html-validate.mjs", "--config", config, "--formatter", "text", *files],
        capture_output=True, text=True,
    )  # fmt: skip
    assert out.returncode == 0, f"html-validate:\n{out.stdout[:6000]}{out.stderr[:3000]}"


def quiet(browser, page):
    """It opens from disk, asks for nothing else and complains of nothing."""
    said, asked = browser.logs()
    assert said == [], f"{page.name}: the console says {said}"
    assert {address.split("#")[0] for address in asked} <= {page.as_uri()}, f"{page.name} asks for {asked}"


def no_wider(browser, name):
    wide, room = browser.run("return [document.documentElement.scrollWidth, innerWidth]")
    assert wide <= room, f"{name}: {wide} px wide in {room} px"


def dressed(browser, name):
    """The styles reach what they are for: small words in the plain face, sentences in the other, on the first showing of a
    picture and on the next."""
    faces = browser.run(
        "return ['h1', 'h2', 'h3', 'summary', 'th', 'caption', 'figcaption', 'svg text', '.reason'].flatMap(css => "
        "[...document.querySelectorAll(css)].slice(0, 40).map(e => [css, getComputedStyle(e).fontFamily, parseFloat(getComputedStyle(e).fontSize)]))"
    )
    assert faces
    for css, family, size in faces:
        plain = "sans-serif" in family
        assert plain == (css != ".reason"), f"{name}: {css} in {family}"
        assert css == "svg text" or 12 <= size <= 24, f"{name}: {css} is {size} px"


def accessible(browser, axe, name):
    """No violation by axe-core, with every line open."""
    found = browser.driver.execute_async_script(
        f"{axe}; const done = arguments[arguments.length - 1];"
        "axe.run(document, { runOnly: arguments[0], resultTypes: ['violations'] }).then(r => done({ v: r.violations.map("
        "v => `${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + ' // ' + n.failureSummary).join(' | ')}`), passes: r.passes.length }),"
        "e => done({ v: [String(e)], passes: 0 }))",
        TAGS,
    )
    assert found["v"] == [], f"{name}: {found['v']}"
    assert found["passes"] > 10, f"{name}: axe looked at next to nothing"


def reached(browser, name):
    """The tab key comes to every line, link and picture, and each shows that it is there."""
    bare = browser.run("return [...document.querySelectorAll('.paper[data-plot]')].filter(e => e.tabIndex !== 0 && e.dataset.plot).length")
    assert bare == 0, f"{name}: {bare} pictures without a stop for the keyboard"
    browser.run("scrollTo(0, 0); document.activeElement.blur()")
    wanted = browser.run(
        "window.seen = new Set(); const all = [...document.querySelectorAll('summary, a[href], button, .paper[data-plot]')]"
        ".filter(e => e.checkVisibility()); window.unseen = new Set(all); "
        "document.addEventListener('focusin', e => { window.unseen.delete(e.target); "
        "const s = getComputedStyle(e.target); if (e.target.matches(':focus-visible') && s.outlineStyle === 'none') window.seen.add(e.target.outerHTML.slice(0, 80)); }); return all.length"
    )
    for _ in range(0, wanted + 20, 20):
        browser.keys(*["\ue004"] * 20)
    left, bare = browser.run("return [[...window.unseen].map(e => e.outerHTML.slice(0, 120)), [...window.seen]]")
    assert left == [], f"{name}: the keyboard does not reach {left[:5]}"
    assert bare == [], f"{name}: no outline on {bare[:5]}"
    return wanted


def opens(browser, name):
    """A line opens and closes by key, and a link into a closed line opens it."""
    browser.run("for (const d of document.querySelectorAll('details')) d.open = false; document.querySelector('details.check > summary')?.focus()")
    state = "return document.querySelector('details.check').open"
    browser.keys("\ue007")
    assert browser.run(state) is True, f"{name}: the enter key opens nothing"
    browser.keys(" ")
    assert browser.run(state) is False, f"{name}: the space key closes nothing"
    target = browser.run("const all = [...document.querySelectorAll('details.check .body')]; return all[all.length - 1].id")
    browser.run("location.hash = arguments[0]", target)
    time.sleep(0.2)
    assert browser.run("return document.getElementById(arguments[0]).closest('details').open", target), f"{name}: #{target} stays closed"
    browser.run("history.replaceState(null, '', location.pathname)")


def without_script(browser, page):
    """All words stand there, and lines open, with JavaScript off."""
    browser.open(page)
    said, _ = browser.logs()
    # The one thing that the console may say is that the script does not run.
    assert all("script" in line.lower() for line in said), f"{page.name}: {said}"
    assert browser.find("#reading") == [], f"{page.name}: the script ran after all"
    lines = browser.find("details.check > summary")
    if lines:
        body = browser.find("details.check > .body")[0]
        assert not body.is_displayed()
        lines[0].click()
        assert body.is_displayed() and body.text, f"{page.name}: a line stays closed without script"
    return len(lines)


def pictures(browser, name):
    if not PICTURES:
        return
    folder = pathlib.Path(PICTURES)
    folder.mkdir(parents=True, exist_ok=True)
    for opened in (False, True):
        more = "-open" if opened else ""
        browser.run("for (const d of document.querySelectorAll('details')) d.open = arguments[0]", opened)
        for size in ("phone", "laptop"):
            for scheme in ("light", "dark"):
                browser.look(size, scheme=scheme)
                browser.picture(folder / f"{name}-{size}-{scheme}{more}.png")
    browser.run("for (const d of document.querySelectorAll('details')) d.open = false")
    browser.look()
    browser.printed(folder / f"{name}-a4.pdf", 8.27, 11.69)
    browser.printed(folder / f"{name}-letter.pdf", 8.5, 11)


def main():
    began = time.monotonic()
    axe = (TOOLS / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    folder = pathlib.Path(tempfile.mkdtemp(prefix="plugread-pages-"))
    made = list(pages(folder))
    sizes = {name: page.stat().st_size for name, page, _ in made}
    assert max(sizes.values()) < MOST_BYTES, sizes
    valid([page for _, page, _ in made])
    browser, plain = Browser(), Browser(script=False)
    stops, places, shown, dots = 0, 0, 0, 0
    for name, page, log in made:
        text = page.read_text(encoding="utf-8")
        browser.look()
        browser.open(page)
        quiet(browser, page)
        stops += 'class="stop"' in text
        for size in ("phone", "laptop", "wide"):
            browser.look(size)
            no_wider(browser, f"{name} ({size}, closed)")
        browser.look()
        if browser.find("details.check"):
            opens(browser, name)
        browser.open_all()
        dressed(browser, name)
        for size in ("phone", "laptop"):
            browser.look(size)
            no_wider(browser, f"{name} ({size}, open)")
        for media, scheme in (("screen", "light"), ("screen", "dark"), ("print", "light"), ("print", "dark")):
            browser.look(media=media, scheme=scheme)
            # A printer asks for light or dark as the screen does, and gets light.
            if (media, scheme) != ("print", "dark"):
                accessible(browser, axe, f"{name} ({media}, {scheme})")
            ground = browser.run("return getComputedStyle(document.body).backgroundColor")
            dark = (media, scheme) == ("screen", "dark")
            assert (ground != "rgb(255, 255, 255)") == dark, f"{name}: {ground} on {media}, {scheme}"
        if log:
            browser.look("phone")
            accessible(browser, axe, f"{name} (phone)")
        browser.look()
        places += reached(browser, name)
        if log:
            shown += readout(browser, name, Log(log))
            dots += points(browser, name)
        quiet(browser, page)
        pictures(browser, name)
        without_script(plain, page)
    assert stops >= 1, "no page with a stop was looked at"
    assert dots >= 3, "no picture of points was gone through"
    largest = max(sizes, key=sizes.get)
    print(
        f"pages in chromium: {len(made)} opened with the network off, largest {sizes[largest] / 1e6:.2f} MB ({largest}); "
        f"markup valid; axe finds nothing in light, dark, print and on a phone; {places} places reached by key; "
        f"{shown} readings as in the logs, {dots} points as drawn ({time.monotonic() - began:.0f} s)"
    )


if __name__ == "__main__":
    main()
