"""Faults on purpose: the engine of due work is killed, starved and lied to, and the harm counted.

Run by ``script/faults``; pytest runs only the small tests of the counting itself.
"""
