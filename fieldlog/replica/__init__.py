"""A second copy of a programme that follows it within a second: database by Litestream, photos by content."""
