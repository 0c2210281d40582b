"""What can be wrong, as ports on the healthy network, and what every defect would read."""
