"""
What a crew writes down: each kind of record declared once, and everything that follows from the declaration.
"""
