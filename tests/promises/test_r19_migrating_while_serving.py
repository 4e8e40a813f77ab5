"""R19: a migration that has to wait for somebody lets everybody else read meanwhile."""

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from service.core import migrations
from service.core.ids import new_id
from service.core.migrations import upgrade
from tests.house import Templates

BEFORE, AFTER = "0036", "0037"  # this one changes the table of photos
READS_ON_S = 3.0
READ = text("SELECT count(*) FROM photo")


@pytest.fixture
def populated(templates: Templates, tmp_path: Path) -> Iterator[str]:
    with templates.empty("postgresql", f"m{new_id().replace('-', '')}", tmp_path) as url:
        upgrade(url, BEFORE)
        yield url


def longest_read_s(url: str) -> float:
    """How long one reader waits at most while another reads on and on and the table is changed."""
    engine = create_engine(url, pool_size=5)
    migrating = threading.Thread(target=upgrade, args=(url, AFTER))
    longest = 0.0
    with engine.connect() as slow:
        slow.execute(READ)  # its transaction stays open, and with it its lock
        migrating.start()
        letting_go = threading.Timer(READS_ON_S, slow.rollback)
        letting_go.start()
        while migrating.is_alive():
            begun = time.monotonic()
            with engine.connect() as reader:
                reader.execute(READ)
            longest = max(longest, time.monotonic() - begun)
            time.sleep(0.02)
        letting_go.join()
    with engine.connect() as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == AFTER
    engine.dispose()
    return longest


@pytest.mark.promise(r=19)
def test_others_read_on_while_a_migration_waits_for_a_long_reader(populated: str) -> None:
    assert longest_read_s(populated) < READS_ON_S / 2


@pytest.mark.promise(r=19)
def test_with_patience_it_would_keep_all_of_them_waiting(
    populated: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(migrations, "LOCK_WAIT_MS", 0)  # as the server is by itself
    assert longest_read_s(populated) > READS_ON_S / 2
