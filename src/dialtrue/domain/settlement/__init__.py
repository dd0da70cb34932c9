"""Put a wrong bill right: what each period should have held, by which method, and how sure that is."""
