"""The invented plant of the demonstration, and the music that it presses."""
