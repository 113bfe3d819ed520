"""Hours as people read them: what a lead's screens show, letters, and the sheet for a funder."""
