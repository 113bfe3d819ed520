"""Hours of people: from sign-ins and what was typed to a ledger. Pure: rows in, numbers out."""
