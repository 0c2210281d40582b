"""Which defects may explain the job: prior, likelihood of each finding, posterior, reasons."""
