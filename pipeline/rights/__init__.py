"""What a person may ask about their data: to get it, to have it erased, to have it lapse."""
