"""What is asked of the tables that are made from the log: each question once, and its SQL nowhere else."""
