"""JupyterLab in a real Chromium, as a person has it: a notebook that ships is opened and run, a channel's name completed, a long
cell interrupted from the toolbar.

`PLUGREAD_PICTURES=DIR` keeps a picture of each step: they are there to be looked at.
"""

import atexit
import csv
import json
import os
import pathlib
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request

from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from kernel_home import HOME, PROGRAM, SAMPLES

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent / "page"))

from chromium import chromium

PICTURES = os.environ.get("PLUGREAD_PICTURES")
# What JupyterLab would ask the network for, or a person about, at its first start.
SETTINGS = {"apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False, "doNotDisturbMode": True}}
NOTEBOOK = "scripts/notebooks/first-start.ipynb"
# Never ends by itself, nor by the steps that a cell may take, for each turn is long.
LONG = "while true { review(run); }"
# Seconds.
START, RUN, STEP, STOPPED = 120, 90, 20, 10


def desk():
    """A folder with the notebooks and logs where they stand to each other in the project, and all of Jupyter's folders."""
    top = pathlib.Path(tempfile.mkdtemp(prefix="plugread-lab-"))
    atexit.register(shutil.rmtree, top, ignore_errors=True)
    work = top / "work"
    shutil.copytree(HOME / "scripts" / "notebooks", work / "scripts" / "notebooks")
    shutil.copytree(SAMPLES, work / "sample-logs")
    for name, said in SETTINGS.items():
        file = top / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(said))
    subprocess.run([PROGRAM, "kernel", "install", "--prefix", str(top / "prefix")], check=True, stdout=subprocess.DEVNULL)
    return top, work


def served(top, work):
    """JupyterLab on this machine alone: where it answers."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    own = {
        "HOME": str(top),
        "JUPYTER_PLATFORM_DIRS": "0",
        "JUPYTER_CONFIG_DIR": str(top / "config"),
        "JUPYTER_DATA_DIR": str(top / "data"),
        "JUPYTER_RUNTIME_DIR": str(top / "runtime"),
        "JUPYTER_PATH": str(top / "prefix" / "share" / "jupyter"),
        "JUPYTERLAB_SETTINGS_DIR": str(top / "settings"),
        "JUPYTERLAB_WORKSPACES_DIR": str(top / "workspaces"),
    }
    log = open(top / "lab.log", "w+")
    lab = subprocess.Popen(
        [
            sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ip=127.0.0.1", f"--port={port}",
            "--ServerApp.port_retries=0", f"--ServerApp.root_dir={work}", "--IdentityProvider.token=",
            "--LabApp.news_url=", "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        ],
        env=os.environ | own, cwd=work, stdout=log, stderr=subprocess.STDOUT,
    )  # fmt: skip

    def close():
        lab.terminate()
        try:
            lab.wait(10)
        except subprocess.TimeoutExpired:
            lab.kill()

    atexit.register(close)
    home = f"http://127.0.0.1:{port}"
    direct = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    until = time.monotonic() + START
    while True:
        try:
            direct.open(f"{home}/api", timeout=5).close()
            return home
        except OSError:
            if lab.poll() is not None or time.monotonic() > until:
                log.seek(0)
                raise AssertionError(f"JupyterLab does not start:\n{log.read()[-3000:]}") from None
            time.sleep(0.2)


def browser(top):
    os.environ["no_proxy"] = os.environ["NO_PROXY"] = "127.0.0.1,localhost"
    page = chromium(top / "browser", "--window-size=1280,1000", "--no-proxy-server")
    atexit.register(page.quit)
    return page


class Lab:
    """The page, and what a person does on it."""

    def __init__(self, page, home, work):
        self.page, self.work, self.shot = page, work, 0
        page.get(f"{home}/lab/tree/{NOTEBOOK}?reset")

    def all(self, css):
        return self.page.find_elements(By.CSS_SELECTOR, css)

    def text(self, css):
        """What all of these say. The page may draw them anew at any moment, so it is asked in one go."""
        return self.page.execute_script("return [...document.querySelectorAll(arguments[0])].map(e => e.textContent)", css)

    def until(self, what, done, seconds=STEP):
        """Waits. Where it waits in vain a picture of the page stays behind if pictures are wanted."""
        end = time.monotonic() + seconds
        while not (found := done()):
            if time.monotonic() > end:
                self.picture("in-vain")
                raise AssertionError(f"in {seconds} s not seen: {what}")
            time.sleep(0.1)
        return found

    def picture(self, name):
        if PICTURES:
            pathlib.Path(PICTURES).mkdir(parents=True, exist_ok=True)
            self.shot += 1
            self.page.save_screenshot(str(pathlib.Path(PICTURES) / f"{self.shot:02}-{name}.png"))

    def click(self, css, says=""):
        def found():
            return next((e for e in self.all(css) if says in e.text and e.is_displayed()), None)

        self.until(f"{css} {says}", found).click()

    def menu(self, name, command):
        self.click(".lm-MenuBar-item", name)
        self.click(f'.lm-Menu-item[data-command="{command}"]')

    def keys(self, *keys):
        ActionChains(self.page).send_keys(*keys).perform()

    def chord(self, held, key):
        ActionChains(self.page).key_down(held).send_keys(key).key_up(held).perform()

    def status(self):
        """What the status line says of the kernel: its name and whether it is idle."""
        return next((said for said in self.text("#jp-main-statusbar .jp-StatusBar-TextItem") if " | " in said), "")

    def prompts(self):
        return self.text(".jp-CodeCell .jp-InputPrompt")

    def idle(self):
        return self.status() == "plugread | Idle" and not any("*" in p for p in self.prompts())

    def own(self, code):
        """A cell of one's own below all others, with `code` typed into it."""
        before = len(self.all(".jp-Cell"))
        self.click(".jp-Notebook-footer")
        self.until("a new cell", lambda: len(self.all(".jp-Cell")) == before + 1)
        self.click(".jp-CodeCell.jp-mod-active .cm-content")
        self.until("a caret in it", lambda: self.all(".jp-CodeCell.jp-mod-active .cm-editor.cm-focused"))
        self.keys(code)
        self.until(f"{code} in the cell", lambda: self.typed() == code)

    def run(self):
        self.chord(Keys.CONTROL, Keys.ENTER)

    def typed(self):
        """What stands in the chosen cell."""
        return "\n".join(self.text(".jp-Cell.jp-mod-active .cm-line"))

    def said(self):
        """What the chosen cell answered."""
        return "\n".join(self.text(".jp-Cell.jp-mod-active .jp-OutputArea-output"))

    def saved(self):
        """The notebook as it was saved, cell by cell."""
        file = self.work / NOTEBOOK
        before = file.stat().st_mtime_ns
        self.menu("File", "docmanager:save")

        def whole():
            """The server may still be writing."""
            try:
                return file.stat().st_mtime_ns != before and json.loads(file.read_text())
            except json.JSONDecodeError:
                return None

        return {cell["id"]: cell for cell in self.until("a saved notebook", whole)["cells"]}

    def table(self, at):
        """The table that the cell at this place shows, by its heads."""
        heads, *rows = self.page.execute_script(
            "return [...document.querySelectorAll('.jp-Cell')[arguments[0]].querySelectorAll('.jp-OutputArea-output tr')]"
            ".map(row => [...row.cells].map(cell => cell.textContent.trim()))",
            at,
        )
        return [dict(zip(heads, row, strict=True)) for row in rows]

    def leafed(self):
        """A picture of each screenful, from the top. Nothing where no pictures are wanted."""
        scroll = "const s = document.querySelector('.jp-WindowedPanel-outer'); s.scrollTop = arguments[0]; return s.scrollHeight"
        top = 0
        while PICTURES and top < self.page.execute_script(scroll, top):
            time.sleep(0.3)
            self.picture("leafed")
            top += 700


def logged(heading):
    """What Python's own reader finds in the log."""
    with open(pathlib.Path(SAMPLES) / "first-start.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))[2:]
    at = rows[0].index(heading)
    return [float(row[at]) for row in rows[1:] if len(row) > at and row[at].strip()]


def opened_and_run(lab):
    lab.until("a kernel that is ready", lab.idle, START)
    lab.picture("opened")
    lab.menu("Run", "runmenu:run-all")
    lab.until("all cells run", lambda: lab.idle() and all(re.fullmatch(r"\[\d+\]:", p) for p in lab.prompts()), RUN)
    cells = lab.saved()
    for cell in cells.values():
        for output in cell.get("outputs", []):
            assert output["output_type"] != "error", f"{cell['id']}: {output}"
    code = [c for c in cells.values() if c["cell_type"] == "code"]
    assert [c["execution_count"] for c in code] == list(range(1, len(code) + 1))
    assert lab.text(".jp-RenderedText[data-mime-type*=stderr]") == []

    shown = {key: at for at, key in enumerate(cells)}
    for row in lab.table(shown["cylinders-figures"]):
        near(row["greatest, degC"], max(logged(f"EGT Cyl {row['cylinder']} (degC)")))
    coolant = lab.table(shown["heat-figures"])[0]
    near(coolant["greatest, degC"], max(logged("Coolant Temp (degC)")))
    drawn = lab.page.execute_script(
        "return [...document.querySelectorAll('.jp-RenderedSVG svg, .jp-RenderedSVG img')].map(e => e.getBoundingClientRect().width)"
    )
    plots = sum('plot(' in "".join(c["source"]) for c in code)
    assert len(drawn) == plots and min(drawn) > 300, f"{plots} plots, drawn this wide: {drawn}"
    laid_out(lab)
    lab.leafed()
    return len(code), plots


def laid_out(lab):
    """JupyterLab has styles of its own for tables and lists: words stay at the left, names of facts on one line, and what
    is written can be read on what it stands on."""
    sides = lab.page.execute_script(
        "return [...document.querySelectorAll('.plugread .checks tbody td')].map(e => getComputedStyle(e).textAlign)"
    )
    assert sides and set(sides) == {"left"}, set(sides)
    tall = lab.page.execute_script("return [...document.querySelectorAll('.plugread dt')].map(e => e.firstChild)"
        ".map(words => { const r = document.createRange(); r.selectNode(words); return r.getClientRects().length; })")
    assert tall and max(tall) == 1, f"names of facts, in lines: {tall}"
    inks = lab.page.execute_script(
        "return [...document.querySelectorAll('.plugread th, .plugread td, .plugread td code')].map(e => getComputedStyle(e).color)"
    )
    assert set(inks) == {"rgb(27, 27, 27)"}, set(inks)


def near(shown, wanted):
    assert abs(float(shown) - wanted) <= 0.51, f"{shown} is shown, and the log says {wanted}"


def completed(lab):
    """What fits is offered, with what it is, and the enter key puts it in."""
    lab.own("run.cool")
    assert offered(lab, "one-offered") == ["coolant_temp"]
    lab.keys(Keys.ENTER)
    lab.until("run.coolant_temp", lambda: lab.typed() == "run.coolant_temp")
    lab.keys(".max()")
    lab.run()
    answer = lab.until("its greatest", lambda: lab.idle() and lab.said())
    near(answer.split()[0], max(logged("Coolant Temp (degC)")))
    lab.picture("completed")
    lab.own("run.oil")
    several = offered(lab, "several-offered")
    assert several == ["oil_pressure", "oil_temp"], several
    lab.keys(Keys.ESCAPE)


def offered(lab, name):
    """The channels offered where the caret stands."""
    lab.keys(Keys.TAB)
    seen = (
        "return [...document.querySelectorAll('.jp-Completer-item')].filter(e => e.checkVisibility({ visibilityProperty: true, "
        "opacityProperty: true })).map(e => ['match', 'typeExtended'].map(c => e.querySelector('.jp-Completer-' + c)?.textContent))"
    )
    items = lab.until("names to choose from", lambda: lab.page.execute_script(seen))
    lab.picture(name)
    return [match for match, kind in items if kind == "channel"]


def interrupted(lab):
    lab.own(LONG)
    lab.run()
    lab.until("a busy kernel", lambda: lab.status() == "plugread | Busy")
    time.sleep(1)
    assert lab.said() == "", lab.said()
    lab.picture("busy")
    asked = time.monotonic()
    lab.click('[data-command="notebook:interrupt-kernel"]')
    said = lab.until("the word that it was stopped", lambda: lab.idle() and lab.said(), STOPPED)
    took = time.monotonic() - asked
    lab.picture("stopped")
    assert "stopped" in said or "interrupt" in said.lower(), said
    lab.own("run.rpm.max()")
    lab.run()
    answer = lab.until("the cell after it", lambda: lab.idle() and lab.said())
    near(answer.split()[0], max(logged("Engine Speed (rpm)")))
    lab.picture("went-on")
    return took


def main():
    began = time.monotonic()
    top, work = desk()
    home = served(top, work)
    lab = Lab(browser(top), home, work)
    cells, plots = opened_and_run(lab)
    completed(lab)
    took = interrupted(lab)
    print(
        f"jupyterlab in chromium: {cells} cells run without an error, {plots} plots drawn, values as in the log; "
        f"a channel completed; a long cell stopped {took:.1f} s after the click, and the next one ran "
        f"({time.monotonic() - began:.0f} s)"
    )


if __name__ == "__main__":
    main()
