"""Recordings of the machine's bus, read into findings."""
