"""A person in front of a browser: reads labels, fills fields, presses buttons."""

import base64
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.ui import Select, WebDriverWait

from tests.browser.chromium import found, remedy
from tests.make_people import PASSWORD

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text("utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
WAIT_S = 30
FLAGS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars")


@dataclass(frozen=True)
class Size:
    """How large the screen is."""

    name: str
    width: int
    height: int
    mobile: bool


DESK = Size("desktop", 1280, 900, mobile=False)
PHONE = Size("phone", 390, 844, mobile=True)


@contextmanager
def opened(address: str, size: Size = DESK, *, script: bool = True) -> Iterator["Hands"]:
    """A fresh browser of a size; fails, never skips, when there is none on this machine."""
    there = found()
    if there is None:
        pytest.fail(remedy(), pytrace=False)
    browser, driver_path = there
    options = webdriver.ChromeOptions()
    options.binary_location = browser
    for flag in (*FLAGS, f"--window-size={size.width},{size.height}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver_path))
    try:
        driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": size.width, "height": size.height, "deviceScaleFactor": 1, "mobile": size.mobile},
        )
        if not script:
            driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
        yield Hands(driver, address)
    finally:
        driver.quit()


class Hands:
    """What a person does."""

    def __init__(self, driver: webdriver.Chrome, address: str) -> None:
        self.driver = driver
        self.address = address

    def open(self, path: str) -> None:
        self.driver.get(f"{self.address}{path}")

    def sign_in(self, name: str = "Ines") -> None:
        self.open("/console/sign-in")
        self.fill("Name", name)
        self.fill("Password", PASSWORD)
        self.press("Sign in")

    def field(self, label: str) -> WebElement:
        """The field that a label names."""
        wanted = f"//label[starts-with(normalize-space(.), {_quoted(label)})]"
        for found_label in self.driver.find_elements(By.XPATH, wanted):
            if found_label.is_displayed():
                name = found_label.get_attribute("for")
                if name:
                    return self.driver.find_element(By.ID, name)
                return found_label.find_element(By.CSS_SELECTOR, "input")
        raise AssertionError(f"No field {label!r} on {self.driver.current_url}: {self.text()[:600]}")

    def fill(self, label: str, value: object) -> None:
        """Type into a field, choose in a list, or set a time."""
        field = self.field(label)
        if field.tag_name == "select":
            Select(field).select_by_visible_text(str(value))
        elif field.get_attribute("type") == "datetime-local" and isinstance(value, datetime):
            self.put(field, value.strftime("%Y-%m-%dT%H:%M"))
        elif field.tag_name == "textarea":
            self.put(field, str(value))
        else:
            field.clear()
            field.send_keys(str(value))

    def put(self, field: WebElement, value: str) -> None:
        """What a date picker or pasting does: the value at once."""
        self.driver.execute_script("arguments[0].value = arguments[1]", field, value)

    def attach(self, label: str, *files: Path) -> None:
        """Choose files of this machine in a field."""
        self.field(label).send_keys("\n".join(str(file) for file in files))

    def choose(self, label: str, begins: str) -> None:
        """Choose the entry of a list that begins so."""
        for option in Select(self.field(label)).options:
            if option.text.startswith(begins):
                option.click()
                return
        raise AssertionError(f"{label!r} has no entry {begins!r}")

    def tick(self, label: str) -> None:
        field = self.field(label)
        if not field.is_selected():
            self._click(field)

    def unfold(self, summary: str) -> None:
        wanted = f"//summary[starts-with(normalize-space(.), {_quoted(summary)})]"
        self._click(next(one for one in self.driver.find_elements(By.XPATH, wanted) if one.is_displayed()))

    def press(self, text: str) -> None:
        """Press the button, or follow the link, that begins so; waits for the page it leads to."""
        wanted = f"//*[self::button or self::a][starts-with(normalize-space(.), {_quoted(text)})]"
        shown = [one for one in self.driver.find_elements(By.XPATH, wanted) if one.is_displayed()]
        assert shown, f"Nothing to press that begins {text!r}: {self.text()[:600]}"
        before = self.driver.find_element(By.TAG_NAME, "html").id
        self._click(shown[0])
        WebDriverWait(self.driver, WAIT_S).until(
            lambda driver: driver.find_element(By.TAG_NAME, "html").id != before
        )
        self.no_problem()

    def no_problem(self) -> None:
        """Nothing on this page says that something went wrong."""
        wrong = self.driver.find_elements(By.CSS_SELECTOR, '.problem[role="alert"]')
        assert not wrong, [one.text for one in wrong]

    def text(self) -> str:
        return str(self.driver.find_element(By.TAG_NAME, "body").text)

    def until(self, told: str) -> None:
        """Wait until the page says something."""
        WebDriverWait(self.driver, WAIT_S).until(lambda _: told in self.text())

    def violations(self) -> list[str]:
        """What axe-core finds against WCAG 2.2 A and AA on this page."""
        self.driver.execute_script(AXE)
        found_ = self.driver.execute_async_script(
            "const done = arguments[arguments.length - 1];"
            "axe.run(document, {runOnly: arguments[0], resultTypes: ['violations']})"
            ".then((found) => done(found.violations))",
            RULES,
        )
        return [
            f"{one['id']}: {node['target']} {node['failureSummary']}"
            for one in found_
            for node in one["nodes"]
        ]

    def complaints(self) -> list[str]:
        """What the browser itself complained of: errors of scripts, refused by the content policy."""
        lines: list[dict[str, Any]] = self.driver.get_log("browser")  # type: ignore[no-untyped-call]
        return [line["message"] for line in lines if line["level"] == "SEVERE"]

    def wider_than_the_screen(self) -> bool:
        wide = "return document.documentElement.scrollWidth > document.documentElement.clientWidth"
        return bool(self.driver.execute_script(wide))

    def theme(self, scheme: str) -> None:
        """Light or dark, as the device says."""
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})

    def picture(self) -> bytes:
        """The whole page as a PNG."""
        size: Any = self.driver.execute_script(
            "return [document.documentElement.clientWidth, document.documentElement.scrollHeight]"
        )
        clip = {"x": 0, "y": 0, "width": size[0], "height": min(size[1], 6000), "scale": 1}
        taken = self.driver.execute_cdp_cmd(
            "Page.captureScreenshot", {"captureBeyondViewport": True, "clip": clip}
        )
        return base64.b64decode(taken["data"])

    def _click(self, element: WebElement) -> None:
        # The bar under the thumb must not lie over it.
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
        element.click()


def _quoted(text: str) -> str:
    return f'"{text}"' if '"' not in text else f"'{text}'"
