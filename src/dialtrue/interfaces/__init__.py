"""What people and programs talk to: the command line."""
