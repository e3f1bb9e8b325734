"""The rig tells what is held from what is put off by the length of a claim; it must know it."""

from pipeline.claims.due import LEASE
from tests.faults.site import HELD


def test_the_rig_knows_how_long_a_claim_holds():
    assert f"next_attempt_at = claimed_at + interval '{LEASE.seconds // 60} minutes'" == HELD
