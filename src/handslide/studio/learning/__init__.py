"""What is learnt from the choices on stands, with the teacher's yes."""
