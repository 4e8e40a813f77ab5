"""Every kind of page of a house, found by following the links."""

import re
from collections.abc import Iterator

from selenium.webdriver.common.by import By

from tests.browser.hands import Hands

ID = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|[0-9A-HJKMNP-TV-Z]{26}")


def kind_of(address: str) -> str:
    """Two pages of one kind differ only in ids and queries."""
    bare = ID.sub("*", address.split("?", maxsplit=1)[0].split("#", maxsplit=1)[0])
    return "-".join(part for part in bare.removeprefix("/console/").split("/") if part)


def walk(hands: Hands) -> Iterator[str]:
    """Open one page of each kind in turn; gives its kind while it is open."""
    seen, waiting = {""}, ["/console/round"]
    while waiting:
        address = waiting.pop(0)
        kind = kind_of(address)
        if kind in seen:
            continue
        seen.add(kind)
        hands.open(address)
        links = hands.driver.find_elements(
            By.CSS_SELECTOR, 'a[href*="/console/"]:not([href*=".csv"]):not([href*="/photos/"])'
        )
        waiting += sorted({str(one.get_attribute("href")).removeprefix(hands.address) for one in links})
        yield kind
