"""How a score is played: when and how loud each note, and the sound of it."""
