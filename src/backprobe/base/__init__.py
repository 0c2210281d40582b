"""Words every other room uses: problems, quantities. Knows nothing of machines."""
