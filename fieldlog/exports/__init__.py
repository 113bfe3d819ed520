"""A programme's data taken out: what each table looks like (tables.py), its rows (stream.py), and a writer a format."""
