"""What is seen of the program from outside: whether it answers, its numbers, its log."""
