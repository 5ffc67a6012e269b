"""What the screens say: sentences, amounts, keys."""
