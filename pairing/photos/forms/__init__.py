"""Forms: designs of cards that the program was taught, and which of them a photo shows."""
