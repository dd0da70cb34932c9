"""What is handed over to billing and other systems: which ports, in which columns, by which exact figures."""
