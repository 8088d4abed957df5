"""A Chromium with the network off, and what a person does on a page in it."""

import atexit
import base64
import json
import pathlib
import shutil
import tempfile

from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By

from chromium import chromium

# Width, height, touch.
SIZES = {"phone": (360, 740), "laptop": (1280, 800), "wide": (1920, 1080)}


class Browser:
    """One window. `script=False` has JavaScript switched off."""

    def __init__(self, script=True):
        self.home = pathlib.Path(tempfile.mkdtemp(prefix="plugread-page-"))
        blocked = None if script else {"profile.managed_default_content_settings.javascript": 2}
        self.driver = chromium(self.home, "--hide-scrollbars", prefs=blocked, logs=["browser", "performance"])
        self.driver.set_script_timeout(120)
        atexit.register(self.close)
        self.command("Network.enable")
        self.command("Network.emulateNetworkConditions", offline=True, latency=0, downloadThroughput=0, uploadThroughput=0)

    def close(self):
        if self.driver:
            self.driver.quit()
            self.driver = None
            shutil.rmtree(self.home, ignore_errors=True)

    def command(self, name, **arguments):
        return self.driver.execute_cdp_cmd(name, arguments)

    def look(self, size="laptop", media="screen", scheme="light"):
        width, height = SIZES[size]
        self.command("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=size == "phone")
        self.command("Emulation.setEmulatedMedia", media=media, features=[{"name": "prefers-color-scheme", "value": scheme}])

    def open(self, page):
        self.logs()
        self.driver.get(page.as_uri())

    def run(self, script, *arguments):
        return self.driver.execute_script(script, *arguments)

    def find(self, css):
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def keys(self, *keys):
        ActionChains(self.driver).send_keys(*keys).perform()

    def logs(self):
        """What the console said, and every address that was asked for, since the last look."""
        said = [entry["message"] for entry in self.driver.get_log("browser")]
        asked = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                asked.append(message["params"]["request"]["url"])
        return said, asked

    def open_all(self):
        self.run("for (const line of document.querySelectorAll('details')) line.open = true")

    def picture(self, file):
        """The whole page, from top to foot."""
        size = self.command("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": min(size["height"], 12000), "scale": 1}
        shot = self.command("Page.captureScreenshot", format="png", clip=clip, captureBeyondViewport=True)
        file.write_bytes(base64.b64decode(shot["data"]))

    def printed(self, file, width, height):
        """As a PDF, paper in inches."""
        self.command("Emulation.setEmulatedMedia", media="", features=[])
        made = self.command("Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=True, preferCSSPageSize=False)
        file.write_bytes(base64.b64decode(made["data"]))
