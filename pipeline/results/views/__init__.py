"""The pages of results: read the address, compute, show or hand out as a file."""
