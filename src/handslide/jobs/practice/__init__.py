"""Practice material: drills, lessons, drones, play-alongs."""
