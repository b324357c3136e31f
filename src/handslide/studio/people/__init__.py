"""Students and their horns, each with its history."""
