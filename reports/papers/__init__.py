"""What stands at the head of every paper: the company's address and logo, a project's order, whom they go to."""
