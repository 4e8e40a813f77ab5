"""When to ask what is owed, and nothing of what is then done. `celery -A worker.timetable beat`."""

from service.core.logs import configure
from service.core.queue import celery
from service.core.settings import read_settings

SETTINGS = read_settings()
SETTINGS.home.mkdir(parents=True, exist_ok=True)  # beat keeps its timetable there
configure(SETTINGS.log_level)
app = celery(SETTINGS)
app.conf.beat_schedule = {
    "tick": {"task": "worker.tick", "schedule": 5.0, "options": {"expires": 5}},
}
app.conf.beat_schedule_filename = str(SETTINGS.home / "beat-schedule")
