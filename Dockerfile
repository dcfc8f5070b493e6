# One image for the web server, the worker and the clock; docker-compose.yml says which of them a container is.

FROM node:24-slim AS browser-packages
WORKDIR /site
COPY package.json package-lock.json .npmrc ./
RUN npm ci --omit=dev --no-audit --no-fund

# The Python that the tests run on.
FROM python:3.11-slim-bookworm
WORKDIR /site
COPY requirements.txt ./
RUN pip install --no-cache-dir --requirement requirements.txt

ENV DJANGO_SETTINGS_MODULE=intake.settings.production \
    PYTHONUNBUFFERED=1 \
    VAR_DIR=/var/lib/intake \
    PRIMARY_STORE=/var/lib/intake-primary \
    REPLICA_STORE=/var/lib/intake-replica \
    STATIC_ROOT=/srv/intake-static \
    NUMBA_CACHE_DIR=/var/lib/intake/numba

# Folders exist, and belong to the site, before volumes are laid over them: a new volume takes over their owner.
RUN useradd --system --uid 10001 --home-dir /var/lib/intake --shell /usr/sbin/nologin intake \
    && mkdir -p "$NUMBA_CACHE_DIR" "$PRIMARY_STORE" "$REPLICA_STORE" "$STATIC_ROOT" \
    && chown -R intake:intake "$VAR_DIR" "$PRIMARY_STORE" "$REPLICA_STORE" "$STATIC_ROOT"

COPY --from=browser-packages /site/node_modules node_modules
COPY manage.py ./
COPY audio_qc audio_qc
COPY intake intake
COPY templates templates
COPY static static

USER intake
# Gathering static files needs no secret and no database, which production settings would ask for.
RUN DJANGO_SETTINGS_MODULE=intake.settings.local VAR_DIR=/tmp/gathering python -m django collectstatic --no-input --verbosity=0 \
    && rm -r /tmp/gathering

EXPOSE 8000
CMD ["python", "-m", "gunicorn", "intake.wsgi", "--bind=0.0.0.0:8000", "--worker-class=gthread", "--workers=1", "--threads=8", "--timeout=120", "--graceful-timeout=8", "--no-control-socket", "--access-logfile=-"]
