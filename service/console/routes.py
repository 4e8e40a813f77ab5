"""Mounting the console: its blueprint, its filters, its language, and what every template knows."""

from functools import lru_cache
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlencode

from flask import Flask, g, redirect, render_template, request, url_for
from flask_babel import Babel, gettext
from jinja2 import StrictUndefined
from markupsafe import Markup, escape
from werkzeug import Response
from werkzeug.exceptions import HTTPException, NotFound

from service.accounts.rules import BENCH, MANAGERS, OWNERS, READERS, SALES, STAFF, Role
from service.console import (
    routes_account,
    routes_looks,
    routes_lot_tests,
    routes_lots,
    routes_mix,
    routes_orders,
    routes_people,
    routes_photos,
    routes_receive,
    routes_reports,
    routes_round,
    routes_sales,
    routes_sign_in,
    routes_stores,
    routes_trials,
    routes_tubs,
)
from service.console.asking import actor
from service.console.door import Bench, blueprint
from service.console.said import icon, language, shown, shown_many
from service.console.said import later as _
from service.console.shown import FILTERS
from service.console.words import GROUPS, credited, happened, reason_words, word, worded
from service.core.ids import new_id

PAGES = (
    routes_account,
    routes_looks,
    routes_lot_tests,
    routes_lots,
    routes_mix,
    routes_orders,
    routes_people,
    routes_photos,
    routes_receive,
    routes_reports,
    routes_round,
    routes_sales,
    routes_sign_in,
    routes_stores,
    routes_trials,
    routes_tubs,
)

MAY = {"bench": BENCH, "clear": MANAGERS, "sell": SALES, "hold": STAFF, "own": OWNERS}
THEMES = ("", "light", "dark")
START = "console.todays_round"
NAVIGATION = (
    ("console.todays_round", "round", _("Round")),
    ("console.lots", "leaf", _("Lots")),
    ("console.mix", "flask", _("Mix")),
    ("console.look", "eye", _("Look")),
    ("console.receive", "box", _("Receive")),
    ("console.tubs", "thermometer", _("Tubs")),
    ("console.stores", "shelf", _("Stores")),
    ("console.sales", "truck", _("Sales")),
    ("console.certificates", "seal", _("Certificates")),
    ("console.recalls", "back", _("Recalls")),
    ("console.trials", "scales", _("Trials")),
    ("console.reports", "bars", _("Reports")),
    ("console.account", "person", _("You")),
)
ONLY_FOR = {"console.sales": SALES | {Role.AUDITOR}}  # who is not let in is not led there


def attach(app: Flask) -> None:
    """Mount the pages."""
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    Babel(
        app,
        default_translation_directories="console/translations",
        locale_selector=lambda: _bench().locale,
        timezone_selector=lambda: _bench().zone,
    )
    # In place of what Babel's extension puts there: it looks the catalogue up for every single text.
    app.jinja_env.globals.update({"_": shown, "gettext": shown, "ngettext": shown_many, "icon_of": icon})
    app.jinja_env.filters.update(FILTERS)
    app.jinja_env.filters.update(word=word, worded=worded, happened=happened, credited=credited)
    app.jinja_env.filters.update(reason_words=reason_words, actor=actor)
    app.jinja_env.filters.update(pointed=pointed, with_cursor=with_cursor, zipped=zip)
    app.register_blueprint(blueprint)
    app.add_url_rule("/", "start", lambda: redirect(url_for("console.start"), 303))


@blueprint.context_processor
def known() -> dict[str, Any]:
    """What every template knows."""
    bench = _bench()
    role = bench.person.role if bench.person else ""
    return {
        "person": bench.person,
        "csrf": bench.csrf,
        "lang": bench.locale.split("_")[0],
        "zone": bench.zone,
        "units": bench.units,
        "now": g.now,
        # Not a mapping: in a template `may.clear` would be the method of a dict, which is always true.
        "may": SimpleNamespace(**{name: role in roles for name, roles in MAY.items()}),
        "theme": _theme(),
        "new_key": new_id,
        "words": GROUPS,
        "filled": filled,
        "navigation": _navigation(role, language(), request.script_root),
    }


def filled(name: str, value: Any = "") -> Any:
    """What stands in a field: what was just sent, else `value`."""
    return request.form.get(name, value) if request.method == "POST" else value


def pointed(pointer: str) -> str:
    """A JSON pointer in words: '#/lines/0/quantity' is 'line 1, quantity'."""
    parts = [part.replace("_", " ") for part in pointer.removeprefix("#/").split("/")]
    return ", ".join(str(int(part) + 1) if part.isdigit() else part for part in parts)


def with_cursor(path: str, cursor: str) -> str:
    """The address of the next page of a list, its filters kept."""
    kept = {name: value for name, value in request.args.items() if name != "cursor" and value}
    return f"{path}?{urlencode({**kept, 'cursor': cursor})}"


@blueprint.get("/")
def start() -> Response:
    """Where everybody begins."""
    return redirect(url_for(START), 303)


@blueprint.errorhandler(HTTPException)
def sorry(error: HTTPException) -> tuple[str, int]:
    """An error as a page that says what to do next."""
    titles = {
        403: gettext("This is not for you to do"),
        404: gettext("There is nothing here"),
        405: gettext("There is nothing here"),
        413: gettext("That is too large"),
    }
    title = titles.get(error.code or 500, gettext("That did not work"))
    shown = render_template("console/sorry.html", title=title, detail=error.description or "")
    return shown, error.code or 500


@blueprint.route("/<path:anything>")
def nothing_here(anything: str) -> Response:
    """Any other address: the page that says so."""
    raise NotFound(gettext("No page of the console has this address."))


@lru_cache(maxsize=64)
def _navigation(role: str, _language: Any, _root: str) -> list[tuple[str, Markup, Markup]]:
    """Where this role is led, in this language, below this address: every page begins with it."""
    return [
        (url_for(to), icon(picture), escape(str(label)))
        for to, picture, label in NAVIGATION
        if role in ONLY_FOR.get(to, READERS)
    ]


def _bench() -> Bench:
    found: Bench = g.get("bench") or Bench(None, "", "UTC", "en", "si")
    return found


def _theme() -> str:
    found = request.cookies.get("theme", "")
    return found if found in THEMES else ""
