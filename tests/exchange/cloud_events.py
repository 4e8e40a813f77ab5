"""What CloudEvents 1.0.2 asks of an event in the JSON format, as a schema of our own with formats checked.

From the specification, "Context Attributes" and "Naming conventions" (attribute names are lower-case letters
and digits; id, source, specversion and type are required and not empty; time is RFC 3339; source is a
URI-reference) and from its JSON event format, section 2 and 3 (extensions are text, whole numbers or
booleans beside the other members; `data` is any JSON value; no `data_base64` beside it).
"""

from typing import Any

from jsonschema import Draft202012Validator, FormatChecker

FILLED = {"type": "string", "minLength": 1}
SCHEMA = {
    "type": "object",
    "required": ["specversion", "id", "source", "type"],
    "properties": {
        "specversion": {"const": "1.0"},
        "id": FILLED,
        "source": {**FILLED, "format": "uri-reference"},
        "type": FILLED,
        "subject": FILLED,
        "time": {"type": "string", "format": "date-time"},
        "datacontenttype": {"type": "string", "pattern": r"^[\w.+-]+/[\w.+-]+(;.*)?$"},
        "dataschema": {"type": "string", "format": "uri"},
        "data": {},
    },
    "not": {"required": ["data", "data_base64"]},
    "propertyNames": {"pattern": "^[a-z0-9]+$"},
    "additionalProperties": {"type": ["string", "integer", "boolean"]},
}
VALIDATOR = Draft202012Validator(SCHEMA, format_checker=FormatChecker())


def faults(event: Any) -> list[str]:
    """What is wrong with an event; nothing when it is one."""
    return [f"{list(fault.absolute_path)}: {fault.message}" for fault in VALIDATOR.iter_errors(event)]
