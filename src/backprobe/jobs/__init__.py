"""The store of jobs: append-only events. SQL is spoken here and nowhere else."""
