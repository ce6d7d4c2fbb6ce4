"""What was found, said to a person or to a program."""
