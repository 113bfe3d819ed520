"""What readings add up to, each number with its doubt. Takes numbers and gives numbers; no store, clock or request."""
