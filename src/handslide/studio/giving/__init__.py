"""Files that a teacher gives to a student: hand-outs of what the studio holds."""
