"""What follows: whatever needs several studies at once."""
