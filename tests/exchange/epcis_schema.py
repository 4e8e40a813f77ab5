"""What EPCIS 2.0 and CBV 2.0 ask of the events that this house writes, as a narrow schema of our own.

From the standards of GS1 (EPCIS 2.0 and CBV 2.0, 2022) and the enumerations of their published JSON schema,
whose licence is unclear and which is therefore not kept here: the required members of a document and of each
kind of event, the values of bizStep, disposition, business transaction and source types, where a URI of
one's own may stand instead, and that errorDeclaration needs its time. Formats are checked: without that any
text would pass for a URI.
"""

from typing import Any

from jsonschema import Draft202012Validator, FormatChecker

BIZ_STEPS = [
    "accepting",
    "arriving",
    "assembling",
    "collecting",
    "commissioning",
    "consigning",
    "creating_class_instance",
    "cycle_counting",
    "decommissioning",
    "departing",
    "destroying",
    "disassembling",
    "dispensing",
    "encoding",
    "entering_exiting",
    "holding",
    "inspecting",
    "installing",
    "killing",
    "loading",
    "other",
    "packing",
    "picking",
    "receiving",
    "removing",
    "repackaging",
    "repairing",
    "replacing",
    "reserving",
    "retail_selling",
    "shipping",
    "staging_outbound",
    "stock_taking",
    "stocking",
    "storing",
    "transporting",
    "unloading",
    "unpacking",
    "void_shipping",
    "sensor_reporting",
    "sampling",
]
DISPOSITIONS = [
    "active",
    "available",
    "completeness_inferred",
    "completeness_verified",
    "conformant",
    "container_closed",
    "container_open",
    "damaged",
    "destroyed",
    "dispensed",
    "disposed",
    "encoded",
    "expired",
    "in_progress",
    "in_transit",
    "inactive",
    "mismatch_class",
    "mismatch_instance",
    "mismatch_quantity",
    "needs_replacement",
    "no_pedigree_match",
    "non_conformant",
    "non_sellable_other",
    "partially_dispensed",
    "recalled",
    "reserved",
    "retail_sold",
    "returned",
    "sellable_accessible",
    "sellable_not_accessible",
    "stolen",
    "unavailable",
    "unknown",
]
TRANSACTIONS = [
    "bol",
    "cert",
    "desadv",
    "inv",
    "pedigree",
    "po",
    "poc",
    "prodorder",
    "recadv",
    "rma",
    "testprd",
    "testres",
    "upevt",
]
PARTIES = ["owning_party", "possessing_party", "location"]

URI = {"type": "string", "format": "uri", "pattern": "^[a-z][a-z0-9+.-]*:"}
TIME = {"type": "string", "format": "date-time"}
PLACE = {"type": "object", "required": ["id"], "properties": {"id": URI}, "additionalProperties": False}


def word(*values: str) -> dict[str, Any]:
    """One of the standard's words, or a URI of one's own outside the namespaces of GS1."""
    own = {**URI, "not": {"pattern": "^(https://(ref|ns)\\.gs1\\.org|urn:epcglobal)"}}
    return {"anyOf": [{"enum": [*values]}, own]}


def listed(**members: Any) -> dict[str, Any]:
    """A list of objects with exactly these members, all needed but quantity."""
    needed = [name for name in members if name != "quantity"]
    item = {"type": "object", "required": needed, "properties": members, "additionalProperties": False}
    return {"type": "array", "minItems": 1, "items": item}


QUANTITIES = listed(epcClass=URI, quantity={"type": "number", "exclusiveMinimum": 0})
COMMON = {
    "eventID": URI,
    "eventTime": TIME,
    "eventTimeZoneOffset": {"type": "string", "pattern": "^[+-](0\\d|1[0-4]):[0-5]\\d$"},
    "recordTime": TIME,
    "bizStep": word(*BIZ_STEPS),
    "disposition": word(*DISPOSITIONS),
    "persistentDisposition": {
        "type": "object",
        "minProperties": 1,
        "properties": {
            name: {"type": "array", "minItems": 1, "items": word(*DISPOSITIONS)} for name in ("set", "unset")
        },
        "additionalProperties": False,
    },
    "readPoint": PLACE,
    "bizLocation": PLACE,
    "bizTransactionList": listed(type=word(*TRANSACTIONS), bizTransaction=URI),
    "sourceList": listed(type=word(*PARTIES), source=URI),
    "errorDeclaration": {
        "type": "object",
        "required": ["declarationTime"],
        "properties": {"declarationTime": TIME, "reason": word("did_not_occur", "incorrect_data")},
        "additionalProperties": False,
    },
}
NEEDED = ["type", "eventID", "eventTime", "eventTimeZoneOffset"]
OBJECT = {
    "properties": {
        **COMMON,
        "type": {"const": "ObjectEvent"},
        "action": {"enum": ["ADD", "OBSERVE", "DELETE"]},
        "quantityList": QUANTITIES,
    },
    "required": [*NEEDED, "action", "quantityList"],
    "additionalProperties": False,
}
TRANSFORMATION = {  # has no action: it always ends what goes in and begins what comes out
    "properties": {
        **COMMON,
        "type": {"const": "TransformationEvent"},
        "inputQuantityList": QUANTITIES,
        "outputQuantityList": QUANTITIES,
    },
    "required": [*NEEDED, "inputQuantityList", "outputQuantityList"],
    "additionalProperties": False,
}
LASTING = {"persistentDisposition"}  # has no place in an aggregation
AGGREGATION = {
    "properties": {
        **{name: member for name, member in COMMON.items() if name not in LASTING},
        "type": {"const": "AggregationEvent"},
        "action": {"enum": ["ADD", "OBSERVE", "DELETE"]},
        "parentID": URI,
        "childQuantityList": QUANTITIES,
    },
    "required": [*NEEDED, "action", "parentID", "childQuantityList"],
    "additionalProperties": False,
}
SCHEMA = {
    "type": "object",
    "required": ["@context", "type", "schemaVersion", "creationDate", "epcisBody"],
    "properties": {
        "@context": {
            "type": "array",
            "contains": {"const": "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"},
        },
        "type": {"const": "EPCISDocument"},
        "schemaVersion": {"const": "2.0"},
        "creationDate": TIME,
        "epcisBody": {
            "type": "object",
            "required": ["eventList"],
            "properties": {
                "eventList": {"type": "array", "items": {"oneOf": [OBJECT, TRANSFORMATION, AGGREGATION]}}
            },
            "additionalProperties": False,
        },
    },
    "additionalProperties": False,
}
VALIDATOR = Draft202012Validator(SCHEMA, format_checker=FormatChecker())


def faults(document: Any) -> list[str]:
    """What is wrong with a document; nothing when it is one."""
    return [
        f"{list(fault.absolute_path)}: {fault.message[:200]}" for fault in VALIDATOR.iter_errors(document)
    ]
