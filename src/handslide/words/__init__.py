"""Level 2: facts and a language to text. The only room of sentences beside the templates."""
