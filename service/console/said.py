"""The texts of the pages: looked up once in each language, because a page says the same hundred times."""

from typing import Any
from weakref import WeakKeyDictionary

from flask import g, request, url_for
from flask_babel import get_domain
from flask_babel.speaklater import LazyString
from markupsafe import Markup

ICON = Markup(
    '<svg class="icon" aria-hidden="true" focusable="false" viewBox="0 0 24 24">'
    '<use href="{address}#{name}"/></svg>'
)
_ICONS: dict[tuple[str, str], Markup] = {}  # by where the application is mounted, and name
Texts = dict[str, tuple[str, Markup]]
_KNOWN: "WeakKeyDictionary[Any, Texts]" = WeakKeyDictionary()  # by the catalogue of a language


def say(text: str) -> str:
    """A text in the language of this request."""
    return _texts_say(text)[0]


def shown(text: str, **variables: Any) -> Markup:
    """The same for a template, its variables escaped."""
    markup = _texts_say(text)[1]
    return markup % variables if variables else markup


def shown_many(singular: str, plural: str, num: int, **variables: Any) -> Markup:
    """A text that depends on a number."""
    found = get_domain().get_translations().ungettext(singular, plural, num)
    return Markup(found) % {"num": num, **variables}  # noqa: S704  # a text of ours; its variables are escaped


def later(text: str) -> LazyString:
    """A text that is looked up when it is shown."""
    return LazyString(say, text)


def icon(name: str) -> Markup:
    """A picture of the sheet of icons; it is never the only thing that says something."""
    root = request.script_root
    found = _ICONS.get((root, name))
    if found is None:
        address = url_for("console.static", filename="icons.svg")
        found = _ICONS[root, name] = ICON.format(address=address, name=name)
    return found


def language() -> Any:
    """The catalogue of this request's language; the same object as long as it is loaded."""
    return get_domain().get_translations()


def _texts_say(text: str) -> tuple[str, Markup]:
    texts = _texts()
    found = texts.get(text)
    if found is None:
        said = str(language().ugettext(text))
        # `%%` is one sign, with and without variables, as gettext of templates has it.
        plain = said if "%(" in said else said.replace("%%", "%")
        found = texts[text] = (said, Markup(plain))  # noqa: S704  # a text of ours
    return found


def _texts() -> Texts:
    try:
        found: Texts = g.texts
    except AttributeError:
        found = g.texts = _KNOWN.setdefault(language(), {})
    except RuntimeError:  # outside of a request
        return {}
    return found
