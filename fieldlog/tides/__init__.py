"""Tide prediction from harmonic constants: numbers in, numbers out."""
