"""The floor on the wire: the product's own statement on the driver and orjson, nothing else."""

import os

from benchmarks import reading
from service.core.settings import read_settings
from service.wiring import open_database

settings = read_settings()
database = open_database(settings)
app = reading.bare(database, reading.product(settings, database, os.environ["BENCH_TOKEN"]))
