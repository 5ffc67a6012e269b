"""What the screens know, as frozen values folded from the stream."""
