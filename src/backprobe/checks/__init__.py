"""What could be checked, what it costs, whether it is safe, and what to do next."""
