"""Write the next numbered migration from the difference between models and database.

`python -m migrations.new what_it_does`; read what it wrote before committing it.
"""

import sys
import tempfile
from pathlib import Path

from alembic import command
from alembic.script import ScriptDirectory

from service.core.migrations import config, upgrade


def main(name: str) -> None:
    """Compare an empty database at head with the models and write the step between them."""
    folder = Path(__file__).parent / "versions"
    number = f"{len(list(folder.glob('[0-9]*.py'))) + 1:04d}"
    with tempfile.TemporaryDirectory() as scratch:
        url = f"sqlite:///{scratch}/empty.sqlite3"
        if ScriptDirectory.from_config(config()).get_current_head() is not None:
            upgrade(url)
        command.revision(config(url), name.replace("_", " ").capitalize(), autogenerate=True, rev_id=number)
    for written in folder.glob(f"{number}_*.py"):
        written.rename(folder / f"{number}_{name}.py")


if __name__ == "__main__":
    main(sys.argv[1])
