"""The two pictures of a job: the circuit around the suspects, and the loom they lie in.

Pure functions from a book and what is thought of a job to SVG text; the same job gives the same
bytes.
"""
