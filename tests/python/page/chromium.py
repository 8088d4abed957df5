"""A Chromium without a screen that asks for nothing by itself."""

import shutil

from selenium import webdriver
from selenium.webdriver.chrome.service import Service

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = shutil.which("chromedriver")
QUIET = [
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]


def chromium(home, *flags, prefs=None, logs=None):
    """A window whose user has the folder `home`; `logs` names what it writes down for the test."""
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for flag in [*QUIET, f"--user-data-dir={home}", *flags]:
        options.add_argument(flag)
    if prefs:
        options.add_experimental_option("prefs", prefs)
    if logs:
        options.set_capability("goog:loggingPrefs", dict.fromkeys(logs, "ALL"))
    return webdriver.Chrome(options=options, service=Service(DRIVER))
