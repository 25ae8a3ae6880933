"""References on their way out: as a sheet, as linked data, as a IIIF manifest. What comes in stands in `sources`."""
