#!/bin/sh
# The processes of a site. Every one gets the same environment (docs/operations.md lists it).
set -eu

case "${1:-web}" in
release) # once before each start: bring the database and the static files up to this version
    python manage.py check --deploy --fail-level ERROR
    python manage.py migrate --no-input
    python manage.py grant_site_role
    python manage.py journal --chain
    python manage.py collectstatic --no-input --verbosity 0
    # A version may judge otherwise than the one before; what follows from that is for somebody to set going.
    python manage.py standing --check || echo "Stored standings differ from the facts: run manage.py standing, which puts" \
        "them right as any change does: points are marked, people written to, all journalled (docs/operations.md, Upgrade)."
    ;;
web)
    exec gunicorn config.wsgi:application --bind "0.0.0.0:${WEB_PORT:-8000}" \
        --workers "${WEB_WORKERS:-2}" --threads 4 --timeout 60 \
        --logger-class config.access_log.MaskedLog --access-logfile -
    ;;
worker)
    exec celery -A config worker --concurrency "${WORKER_PROCESSES:-2}" --loglevel INFO
    ;;
mail) # a worker of its own for letters: a mail server that does not answer holds up no report
    exec celery -A config worker --queues mail --pool solo --hostname mail@%h --loglevel INFO
    ;;
beat) # exactly one: it only asks for work, the worker does it
    exec celery -A config beat --pidfile= --loglevel INFO
    ;;
*) # for example: manage.py found_company
    exec python "$@"
    ;;
esac
