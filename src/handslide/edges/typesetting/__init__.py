"""Pages from engraved music, texts and shapes (Typst)."""
