"""What the first pages say at a glance."""
