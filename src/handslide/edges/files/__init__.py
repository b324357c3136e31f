"""Files of our own and of users: horns, rows, rosters, and writing beside and renaming."""
