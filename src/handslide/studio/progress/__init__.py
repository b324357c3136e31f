"""What improves over weeks."""
