"""Logs as one JSON object a line, on standard error."""

import logging
import re
import sys
from collections.abc import MutableMapping
from typing import Any

import structlog

DETAIL = re.compile(r"^DETAIL:.*$\n?", re.MULTILINE)


def _without_rows(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
    """PostgreSQL tells of a row that breaks a rule all that is in it; names of people have no place here."""
    if "exception" in event:
        event["exception"] = DETAIL.sub("", event["exception"])
    return event


PROCESSORS = (
    structlog.contextvars.merge_contextvars,
    structlog.processors.add_log_level,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
    structlog.processors.format_exc_info,
    _without_rows,
    structlog.processors.JSONRenderer(),
)


def configure(level: str) -> None:
    """Set up structlog and the standard library's logging alike."""
    logging.basicConfig(stream=sys.stderr, level=level, format="%(message)s", force=True)
    structlog.configure(
        processors=PROCESSORS,
        wrapper_class=structlog.make_filtering_bound_logger(logging.getLevelNamesMapping()[level]),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
        cache_logger_on_first_use=True,
    )
