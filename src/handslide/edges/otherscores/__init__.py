"""Other score formats (Humdrum, MEI, ABC, MIDI) turned into MusicXML."""
