"""Numbers of the shore: positions, movement, grades. Takes numbers and gives numbers; no store, clock or request."""
