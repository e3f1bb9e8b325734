"""A backup of one row of each kind, made where the tests' database is."""

from datetime import timedelta

import pytest
from django.contrib.contenttypes.models import ContentType

from pipeline.exchange.backup.taking import take_backup
from tests.access.everything import one_of_each
from tests.conftest import NOW

# Before any letter of the tests was due.
BEFORE = NOW - timedelta(days=365)


def unheard(words: str) -> None:
    """Take words of progress and drop them."""


@pytest.fixture
def archive(transactional_db, cast, tmp_path):
    """Return the file of a backup of one row of each kind, with uploads."""
    one_of_each(cast)
    path = tmp_path / "kept.zip"
    take_backup(path, now=NOW, say=unheard)
    yield path
    # The tests' database is emptied after this; what is remembered of it with it.
    ContentType.objects.clear_cache()
