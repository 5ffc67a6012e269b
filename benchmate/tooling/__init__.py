"""What a shop-made die has proven, what it carries, and when it drifts. Pure sums."""
