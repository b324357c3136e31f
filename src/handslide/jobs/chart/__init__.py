"""Charts of a horn, for one student or a class."""
