"""Charts in a studio."""
