"""No published value lies unused."""

from pathlib import Path

from .checks import CHECKS


def test_every_check_is_asked_for_by_a_test_and_names_its_source() -> None:
    here = Path(__file__)
    tests = "".join(
        file.read_text() for file in here.parent.glob("test_*.py") if file.name != here.name
    )
    for check in CHECKS:
        assert f'"{check["function"]}"' in tests, check["id"]
        assert check["source"], check["id"]
