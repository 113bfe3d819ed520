"""A site's own water-level records: kept as they came, worked on in a child process, made into tides a lead may choose."""
