"""A season is closed: what is open, and the page that the next leads are left."""
