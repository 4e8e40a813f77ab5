"""Where Chromium and its driver are, and how they get here: `python -m tests.browser.chromium`.

Needs nothing but the standard library, so that it can run before anything is installed.
"""

import os
import shutil
import subprocess
import sys

BROWSERS = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome", "chrome")
PLACES = "/usr/lib/chromium:/usr/lib/chromium-browser:/snap/bin"
INSTALL = {
    "apt-get": "install -y --no-install-recommends chromium chromium-driver fonts-dejavu-core",
    "dnf": "install -y chromium chromedriver dejavu-sans-fonts",
    "pacman": "-S --noconfirm chromium ttf-dejavu",
    "apk": "add chromium chromium-chromedriver font-dejavu",
    "zypper": "--non-interactive install chromium chromedriver dejavu-fonts",
}


def found() -> tuple[str, str] | None:
    """The paths of the browser and its driver, None when one of them is missing."""
    browser = os.environ.get("DIPLEDGER_TEST_CHROMIUM") or next(filter(None, map(_which, BROWSERS)), None)
    driver = os.environ.get("DIPLEDGER_TEST_CHROMEDRIVER") or _which("chromedriver")
    return (browser, driver) if browser and driver else None


def remedy() -> str:
    """The one sentence that says how to get them here."""
    manager = next((name for name in INSTALL if shutil.which(name)), None)
    how = (
        f"install them with: sudo {manager} {INSTALL[manager]}"
        if manager
        else "install both from your system's packages"
    )
    return (
        f"The browser tests need Chromium and chromedriver: {how}, or name yours in DIPLEDGER_TEST_CHROMIUM "
        "and DIPLEDGER_TEST_CHROMEDRIVER."
    )


def install() -> None:
    """Install them by the system's package manager; only for whoever may."""
    manager = next((name for name in INSTALL if shutil.which(name)), None)
    if manager is None or os.geteuid() != 0:
        return
    print(f"Installing Chromium and its driver with {manager} ...")  # noqa: T201  # a command of make
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    if manager == "apt-get":
        subprocess.run([manager, "update", "-qq"], env=environment, check=False)
    command = [manager, *INSTALL[manager].split()]
    subprocess.run(command, env=environment, check=False, stdout=subprocess.DEVNULL)


def _which(name: str) -> str | None:
    return shutil.which(name) or shutil.which(name, path=PLACES)


if __name__ == "__main__":
    if found() is None:
        install()
    if found() is None:
        sys.exit(remedy())
