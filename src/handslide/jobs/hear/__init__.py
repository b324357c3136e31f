"""Takes heard: alone, or beside their part."""
