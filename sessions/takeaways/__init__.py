"""What the lead gets back: the write-up, the lane chart, the PDF, its sending, all of a month."""
