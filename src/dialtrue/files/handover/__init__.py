"""The open forms that installs and reads are handed over in, and the folder that holds them."""
