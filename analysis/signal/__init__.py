"""What a code value means: layouts, range, matrix, curve, percent. Pure."""
