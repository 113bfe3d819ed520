"""The visit plan: which units in which order on one low water, by how many teams."""
