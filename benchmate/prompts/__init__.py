"""Questions asked at the terminal, and answers read."""
