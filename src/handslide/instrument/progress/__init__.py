"""How a player changes over takes: estimated, judged, advised on."""
