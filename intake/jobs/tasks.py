"""The only two Celery tasks."""

from celery import shared_task

from intake.jobs import services


@shared_task
def run_job(job_id: int) -> None:
    services.run(job_id)


@shared_task
def sweep() -> None:
    services.sweep()
