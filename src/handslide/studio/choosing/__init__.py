"""What places on stands are chosen by: what was learnt, with the teacher's yes."""
