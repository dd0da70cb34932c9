"""What a volume costs: rate tables with versions in time, a fixed charge, blocks; exact to the smallest coin."""
