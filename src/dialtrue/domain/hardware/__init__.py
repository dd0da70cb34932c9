"""Hardware that a plan puts on site: endpoints, parts and tools, in our own general words."""
