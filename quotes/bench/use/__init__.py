"""What was really used, by step, by shared mix, by sundries."""
