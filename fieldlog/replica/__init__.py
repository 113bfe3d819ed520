"""A second copy of a programme that follows it within seconds: database by Litestream, photos by content."""
