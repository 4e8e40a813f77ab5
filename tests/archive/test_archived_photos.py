"""Photos in an archive are those of its rows, or they are refused; one that was lost is said to be."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from service.core.settings import Settings
from tests.api import Api
from tests.archive.running import exported, rewritten, run_in, told
from tests.make_photos import encoded, half_and_half, kept


def without_photo(parts: dict[str, bytes], name: str) -> None:
    del parts[f"photos/{name}"]
    told(parts, photos=[])


PHOTO_CHANGES: dict[str, Callable[[dict[str, bytes], str], object]] = {
    "another picture": lambda p, name: p.update({f"photos/{name}": encoded(half_and_half(60, 20))}),
    "it is gone": lambda p, name: p.pop(f"photos/{name}"),
    "one more": lambda p, _: p.update({f"photos/{'ab' * 32}.jpg": b""}),
    "a path": lambda p, _: told(p, photos=["../../secret.key"]),
    "not said to be there": without_photo,
}


@pytest.mark.parametrize("change", PHOTO_CHANGES.values(), ids=PHOTO_CHANGES)
def test_photos_that_are_not_those_of_the_rows_are_refused(
    api: Api,
    settings: Settings,
    empty: Settings,
    tmp_path: Path,
    change: Callable[[dict[str, bytes], str], object],
) -> None:
    name = f"{kept(api)['sha256']}.jpg"
    exported(settings, tmp_path / "house.zip")
    file = rewritten(tmp_path / "house.zip", lambda parts: change(parts, name))
    done = run_in(empty)("import", file, "--json")
    assert (done.exit_code, json.loads(done.stdout)["code"]) == (1, "altered")


def test_a_house_that_lost_a_photo_can_still_be_written_and_says_so(
    api: Api, settings: Settings, empty: Settings, tmp_path: Path
) -> None:
    sha256 = kept(api)["sha256"]
    (settings.photos / sha256[:2] / f"{sha256}.jpg").unlink()
    done = run_in(settings)("export", tmp_path / "house.zip")
    assert done.exit_code == 0
    assert f"Lost before this was written: the photo {sha256}.jpg." in done.output
    assert run_in(empty)("import", tmp_path / "house.zip").exit_code == 0
    checked = run_in(empty)("check")
    assert checked.exit_code == 1
    assert f"wrong: {sha256}" in checked.output
