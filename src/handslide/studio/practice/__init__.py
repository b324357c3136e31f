"""Practice material that starts from what the studio knows of a student."""
