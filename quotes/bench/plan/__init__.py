"""What is to be done next: order of steps, temperature, what is reserved."""
