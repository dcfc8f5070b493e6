"""Real threads on real commits. SQLite lets one writer in at a time, so only PostgreSQL can show these races."""

import pytest
from django.conf import settings


@pytest.fixture(autouse=True)
def postgresql(request):
    if "postgresql" not in settings.DATABASES["default"]["ENGINE"]:
        pytest.skip("SQLite lets one writer in at a time; set DATABASE_URL to a PostgreSQL server to run this")
    request.getfixturevalue("committed_db")
