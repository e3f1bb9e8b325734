"""Figures as drawings: laid out here, drawn by SVG templates, for a page, a file, a document."""
