"""An invented scenario: two agencies, three years of leads."""
