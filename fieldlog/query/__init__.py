"""Questions in SQL: views of what is open, and a connection that reads nothing else."""
