"""What is on the screen, as plain data; what is done on it, as calls of the states."""
