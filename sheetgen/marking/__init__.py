"""What a student's own working is worth."""
