"""What to move: aims, and how far a reading is from them."""
