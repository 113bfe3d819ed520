"""Who may come in, and what each device may do."""
