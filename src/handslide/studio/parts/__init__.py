"""Scores of a studio, and parts on the stands of its students."""
