"""What is darker than the paper: thin lines and solid blacks."""
