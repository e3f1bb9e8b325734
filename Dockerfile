# The program as an image; docker-compose.yml says how its parts run.

FROM python:3.12-slim-trixie AS installed
RUN python -m venv /app/.venv
COPY requirements.lock /tmp/
# All of it ready-made, and each file known by its hash: nothing is compiled here.
RUN /app/.venv/bin/python -m pip install --no-cache-dir --disable-pip-version-check \
    --only-binary :all: --require-hashes -r /tmp/requirements.lock

FROM python:3.12-slim-trixie
ENV PATH=/app/.venv/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1
WORKDIR /app
# pg_dump and pg_restore, for backups: of the version of docker-compose.yml's database.
RUN apt-get update \
    && apt-get install --yes --no-install-recommends postgresql-client-17 \
    && rm -rf /var/lib/apt/lists/*
# A number of its own, the same in every image, so that volumes keep their owner.
RUN useradd --uid 10001 --user-group --no-create-home --shell /usr/sbin/nologin pipeline \
    && install --directory --owner=pipeline --group=pipeline --mode=0700 /app/data
COPY --from=installed /app/.venv /app/.venv
COPY . .
RUN python -m compileall -q pipeline sessions manage.py
USER 10001:10001
EXPOSE 8000
CMD ["gunicorn", "--no-control-socket", "--config", "pipeline/server.py"]
