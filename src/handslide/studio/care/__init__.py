"""Taking care of a studio: backups, archives, erasing, the example."""
