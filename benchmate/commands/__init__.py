"""One module a command: its options, the call, what it prints."""
