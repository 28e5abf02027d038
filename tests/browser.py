"""A headless Chromium, for tests that look at a page as a person does."""

import base64
import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.actions.action_builder import ActionBuilder
from selenium.webdriver.common.actions.interaction import POINTER_TOUCH
from selenium.webdriver.common.actions.pointer_input import PointerInput
from selenium.webdriver.remote.webelement import WebElement

FLAGS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic",
         "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync")
NEEDED = ("chromium", "chromedriver")
PHONE, DESK = 360, 1200
"""Width of a small phone and of a window on a desk in CSS pixels."""


def _programs() -> list[str]:
    """Where browser and driver are; without them the tests are skipped, on a build machine they fail."""
    missing = [name for name in NEEDED if shutil.which(name) is None]
    if missing:
        said = f"no {' and no '.join(missing)} (Debian: apt-get install chromium chromium-driver)"
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(said)
    return [str(shutil.which(name)) for name in NEEDED]


def axe_source() -> str:
    """axe-core as text; of the package that carries it nothing else is used."""
    found = find_spec("axe_playwright_python")
    assert found is not None and found.submodule_search_locations is not None
    return (Path(found.submodule_search_locations[0]) / "axe.min.js").read_text(encoding="utf-8")


@dataclass(frozen=True)
class Browser:
    """One window."""

    driver: webdriver.Chrome

    def open(self, page: Path, width: int = DESK) -> None:
        """A page from disk, as wide as told; logs begin anew."""
        self.command("Emulation.setDeviceMetricsOverride", width=width, height=800, deviceScaleFactor=1,
                     mobile=False)
        self.command("Emulation.setFocusEmulationEnabled", enabled=True)
        self.driver.get("about:blank")
        self.noticed()
        self.driver.get(page.as_uri())

    def js(self, script: str, *arguments: object) -> Any:
        """What a script returns."""
        return self.driver.execute_script(script, *arguments)

    def command(self, name: str, **how: object) -> Any:
        """A command of the DevTools protocol."""
        return self.driver.execute_cdp_cmd(name, how)

    def noticed(self) -> tuple[list[str], list[str]]:
        """Console messages, and addresses asked for, since the page was opened or this was asked."""
        said = [row["message"] for row in self.driver.get_log("browser")]
        events = [json.loads(row["message"])["message"] for row in self.driver.get_log("performance")]
        return said, [row["params"]["request"]["url"] for row in events
                      if row["method"] == "Network.requestWillBeSent"]

    def press(self, key: str) -> None:
        """A key of the keyboard, down and up."""
        ActionChains(self.driver).send_keys(key).perform()

    def open_details(self) -> None:
        """Everything that can be opened, open."""
        self.js("document.querySelectorAll('details').forEach(one => one.open = true)")

    def printed(self) -> tuple[PdfReader, int]:
        """The page as PDF on the paper that it asks for, and its bytes."""
        done = self.command("Page.printToPDF", printBackground=True, preferCSSPageSize=True)
        content = base64.b64decode(done["data"])
        return PdfReader(BytesIO(content)), len(content)

    def tap(self, mark: WebElement) -> None:
        """A finger on an element, down and up."""
        touch = ActionBuilder(self.driver, mouse=PointerInput(POINTER_TOUCH, "finger"))
        touch.pointer_action.move_to(mark).pointer_down().pointer_up()
        touch.perform()

    def findings(self, where: str, colors: bool) -> list[dict[str, Any]]:
        """What axe-core finds wrong in a part of the page, told as a script; `colors` take it long."""
        if not self.js("return 'axe' in window"):
            self.js(axe_source())
        done = self.driver.execute_async_script(
            f"axe.run({where}, {{resultTypes: ['violations'], preload: false, rules: {{'color-contrast': "
            "{enabled: arguments[0]}}}).then(arguments[1])", colors)
        return list(done["violations"])


@contextmanager
def browser(profile: Path) -> Iterator[Browser]:
    """The window, closed at the end; `profile` is an empty folder for what it keeps."""
    binary, driver = _programs()
    options = webdriver.ChromeOptions()
    options.binary_location = binary
    for flag in (*FLAGS, f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    made = webdriver.Chrome(options=options, service=Service(driver))
    try:
        made.set_script_timeout(60)
        yield Browser(made)
    finally:
        made.quit()
