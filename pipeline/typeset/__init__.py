"""Documents: what people wrote, set as a PDF by typst."""
