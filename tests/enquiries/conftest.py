import pytest
from django.test import Client

from tests.enquiries.pages import open_page


@pytest.fixture
def page(cast):
    """Harbour Studio's page, open."""
    return open_page(cast.team)


@pytest.fixture
def browser():
    """A browser of nobody's, turned away without a token wherever one is asked for."""
    return Client(enforce_csrf_checks=True)
