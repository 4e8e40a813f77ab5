"""The one place that reads the clock; everything else is told the time."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


def utc_now() -> datetime:
    """The present moment, aware, in UTC."""
    return datetime.now(UTC)


def local_day(moment: datetime, zone: str) -> date:
    """The calendar day of `moment` in the nursery's time zone."""
    return moment.astimezone(ZoneInfo(zone)).date()


def day_start(day: date, zone: str) -> datetime:
    """The moment (UTC) at which `day` starts in the nursery's time zone."""
    return datetime.combine(day, time(), ZoneInfo(zone)).astimezone(UTC)


def first_day_after(moment: datetime, zone: str) -> date:
    """The first local day that starts at or after `moment` (a release day)."""
    day = local_day(moment, zone)
    return day if day_start(day, zone) >= moment else day + timedelta(days=1)
