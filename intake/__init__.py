"""The intake portal: from the lent kit to the accession register."""

from intake.celery import app as celery_app

__all__ = ["celery_app"]
