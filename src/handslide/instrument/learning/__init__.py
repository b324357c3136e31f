"""A teacher's own choices: examples of them, the profile that explains them, and what it says."""
