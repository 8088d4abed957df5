"""The readings under the pointer, against the log."""

import re

from selenium.webdriver.common.action_chains import ActionChains

RIGHT, LEFT, HOME, PAGE_UP, END, ESCAPE = "\ue014", "\ue012", "\ue011", "\ue00e", "\ue010", "\ue00c"

SHOWN = """
const panel = document.getElementById('reading');
if (panel.hidden) return null;
return { at: panel.querySelector('.at').textContent, here: [...panel.querySelectorAll('.here span')].map(e => e.textContent) };
"""
# Name, unit and title of each picture over time, and the stretch that it shows.
PLOTS = """
const data = JSON.parse(document.getElementById('points').textContent);
return [...document.querySelectorAll('.paper[data-plot]')].map((e, at) => {
  const plot = data.plots[Number(e.dataset.plot)];
  return { at, x: plot.x, title: e.querySelector('svg').getAttribute('aria-label'), check: e.closest('.body')?.id ?? 'top',
           series: plot.s.map(i => data.series[i].n), cloud: plot.cloud };
}).filter(plot => plot.cloud === undefined);
"""
# Pictures of points: where they are, their points, and the markers as they were drawn.
CLOUDS = """
const data = JSON.parse(document.getElementById('points').textContent);
return [...document.querySelectorAll('.paper[data-plot]')].map((e, at) => ({ e, at, plot: data.plots[Number(e.dataset.plot)] }))
  .filter(({ plot }) => plot.cloud !== undefined).map(({ e, at, plot }) => {
    const cloud = data.clouds[plot.cloud], svg = e.querySelector('.desk svg');
    const [left, right, top, bottom] = plot.desk.map(v => 2 * v);
    return { at, title: svg.getAttribute('aria-label'), count: cloud.s.reduce((n, s) => n + s.p.length, 0), x: cloud.x, y: cloud.y,
             range: [plot.x, plot.y],
             drawn: [...svg.querySelectorAll('circle')].map(c => [c.cx.baseVal.value, c.cy.baseVal.value])
               .filter(c => c[0] <= right + 1).map(([x, y]) => [x, y, (x - left) / (right - left), (bottom - y) / (bottom - top)]) };
  });
"""
DOT = """
const dot = arguments[0].querySelector('.desk .dot');
return dot && [dot.cx.baseVal.value, dot.cy.baseVal.value];
"""


def seconds(words):
    """`At 3:21.40 (pull)` or `At 12.34 s (idle)`."""
    if clock := re.match(r"At (\d+):(\d\d\.\d\d)", words):
        return 60 * int(clock[1]) + float(clock[2])
    return float(re.match(r"At (-?[\d.]+) s", words)[1])


def figures(words, name):
    """Lowest and highest as written, with how many decimals."""
    numbers = re.match(rf"{re.escape(name)} (-?[\d.]+)(?: to (-?[\d.]+))?", words)
    assert numbers, words
    low, high = numbers[1], numbers[2] or numbers[1]
    return float(low), float(high), len(low.partition(".")[2])


def readout(browser, name, log):
    """Moves along each picture and holds what the page says against the log. Gives the count of readings compared."""
    compared = exact = 0
    plots = browser.run(PLOTS)
    assert plots, f"{name}: no picture can be moved along"
    seen_before = set()
    for plot in plots:
        # Several checks show the same picture.
        same = (plot["title"], *plot["series"], *plot["x"])
        if same in seen_before:
            continue
        seen_before.add(same)
        element = browser.find(".paper[data-plot]")[plot["at"]]
        browser.run("arguments[0].scrollIntoView({ block: 'center' }); arguments[0].focus()", element)
        moments = [[HOME], [PAGE_UP] * 7, [RIGHT], [RIGHT], [PAGE_UP] * 6, [LEFT], [END]]
        times = []
        for keys in moments:
            browser.keys(*keys)
            shown = browser.run(SHOWN)
            assert shown, f"{name}: nothing is read out after {keys} on {plot['title']}"
            t = seconds(shown["at"])
            assert plot["x"][0] - 0.006 <= t <= plot["x"][1] + 0.006, f"{name}: {shown['at']} outside {plot['x']}"
            times.append(t)
            said = shown["here"]
            assert len(said) == len(set(plot["series"])), f"{name}: {said} for {plot['series']}"
            for series, words in zip(dict.fromkeys(plot["series"]), said, strict=True):
                heading = log.heading(series, plot["title"])
                if heading is None or words.endswith("none here"):
                    continue
                low, high, digits = figures(words, series)
                round_off = 0.5 * 10**-digits + 1e-9
                seen = log.at(heading, t)
                where = f"{name}, {plot['check']}, {plot['title']} at {t} s: `{words}`, logged {seen}"
                assert seen is not None and low - round_off <= seen <= high + round_off, where
                # Both ends were logged close by.
                near = log.between(heading, t - 12, t + 12)
                for end in (low, high):
                    assert any(abs(v - end) <= round_off for v in near), f"{where}: {end} is nowhere near"
                compared += 1
                exact += low == high
        # Up and right go on in time, left goes back, and home and end are the ends. A reading may stand closer by than the
        # hundredths that are shown; the next one does not.
        first, up, near, right, far, left, last = times
        assert first < up <= near < right < far < last and left <= far, f"{name}, {plot['title']}: {times}"
        assert abs(times[0] - plot["x"][0]) < 0.006 and abs(times[-1] - plot["x"][1]) < 0.006, f"{name}: {times}, {plot['x']}"
        browser.keys(ESCAPE)
        assert browser.run(SHOWN) is None, f"{name}: the escape key leaves the readings"
    pointed(browser, name)
    assert exact > compared / 4, f"{name}: {exact} of {compared} readings are single figures"
    return compared


def points(browser, name):
    """Goes from point to point of each picture of points, by key and by pointer. What is said is held against where the marker
    was drawn, which does not come from the same numbers. Gives how many points were read."""
    read = 0
    for cloud in browser.run(CLOUDS):
        element = browser.find(".paper[data-plot]")[cloud["at"]]
        assert element.get_attribute("role") == "slider" and element.get_attribute("tabindex") == "0", name
        browser.run("arguments[0].scrollIntoView({ block: 'center' }); arguments[0].focus()", element)
        where = f"{name}, {cloud['title']}"

        def told(cloud=cloud, element=element, where=where):
            shown = browser.run(SHOWN)
            assert shown and len(shown["here"]) == 1, f"{where}: {shown}"
            x = float(re.search(r"(-?[\d.]+)(?: [^ ]+)?$", shown["at"])[1])
            y = float(re.search(r" (-?[\d.]+)(?: [^ ,]+)*(?:, over ([\d.]+) s)?$", shown["here"][0])[1])
            dot = browser.run(DOT, element)
            # The marker under the ring, as drawn; its height and place along the axes are the values.
            marker = min(cloud["drawn"], key=lambda m: abs(m[0] - dot[0]) + abs(m[1] - dot[1]))
            assert abs(marker[0] - dot[0]) <= 2 and abs(marker[1] - dot[1]) <= 2, f"{where}: {shown} has its ring at {dot}, not on {marker}"
            for value, share, (low, high), axis in ((x, marker[2], cloud["range"][0], "x"), (y, marker[3], cloud["range"][1], "y")):
                close = 0.5 * 10 ** -cloud[axis]["d"] + 0.004 * (high - low)
                assert abs(low + share * (high - low) - value) <= close, f"{where}: {shown}, drawn at {low + share * (high - low)}"
            return x, shown

        browser.keys(HOME)
        seen = [told()]
        for _ in range(cloud["count"] - 1):
            browser.keys(RIGHT)
            seen.append(told())
        xs = [x for x, _ in seen]
        assert xs == sorted(xs), f"{where}: {xs} do not go from left to right"
        assert len(cloud["drawn"]) <= len(seen), f"{where}: {len(cloud['drawn'])} markers, {len(seen)} points"
        browser.keys(RIGHT)
        assert told() == seen[-1], f"{where}: it goes on past the last point"
        browser.keys(HOME)
        assert told() == seen[0], f"{where}: the home key"
        browser.keys(ESCAPE)
        assert browser.run(SHOWN) is None, f"{where}: the escape key leaves the reading"
        browser.run("document.activeElement.blur()")
        # Pointing at a marker reads that one.
        x, y = cloud["drawn"][len(cloud["drawn"]) // 2][:2]
        box = browser.run("const b = arguments[0].querySelector('.desk svg').getBoundingClientRect(); return [b.left, b.top, b.width]", element)
        scale = box[2] / browser.run("return arguments[0].querySelector('.desk svg').viewBox.baseVal.width", element)
        pointer = ActionChains(browser.driver)
        pointer.w3c_actions.pointer_action.move_to_location(round(box[0] + x * scale), round(box[1] + y * scale))
        pointer.perform()
        browser.driver.execute_async_script("const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() => done()))")
        told()
        dot = browser.run(DOT, element)
        assert abs(dot[0] - x) <= 2 and abs(dot[1] - y) <= 2, f"{where}: pointing at {(x, y)} reads the point at {dot}"
        read += len(seen)
    return read


def pointed(browser, name):
    """Pointing does what the keys do, and every picture shows the moment."""
    browser.run("document.activeElement.blur()")
    first = browser.find(".paper[data-plot]")[0]
    browser.run("arguments[0].scrollIntoView({ block: 'center' })", first)
    ActionChains(browser.driver).move_to_element(first).perform()
    # It follows with the next drawing of the page.
    browser.driver.execute_async_script("const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() => done()))")
    shown = browser.run(SHOWN)
    assert shown, f"{name}: pointing at a picture reads nothing out"
    marks = browser.run("return [...document.querySelectorAll('.paper[data-plot]')].filter(e => e.querySelector('.mark')).length")
    t = seconds(shown["at"])
    wanted = sum(p["x"][0] <= t <= p["x"][1] for p in browser.run(PLOTS))
    assert marks == wanted and marks > 1, f"{name}: {marks} of {wanted} pictures show the moment"
    # The mark stands under the pointer.
    off = browser.run(
        "const b = arguments[0].getBoundingClientRect(), m = arguments[0].querySelector('.mark').getBoundingClientRect();"
        "return Math.abs((b.left + b.right) / 2 - (m.left + m.right) / 2)",
        first,
    )
    assert off < 3, f"{name}: the mark stands {off} px beside the pointer"
