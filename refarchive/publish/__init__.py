"""On their way out: references as a sheet, linked data or a IIIF manifest; finished pictures with what is said of them.

What comes in stands in `sources`.
"""
