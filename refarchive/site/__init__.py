"""Sun, moon, clocks and tide at a site: functions on numbers, without paths and without the archive."""
