"""Parts engraved to PDF by other people's programs, their truth, and how well they are read.

For tests and benchmarks only. Each engraver runs as a process of its own, where it is there:

- ``parts``: the single-staff parts of a folder of scores, split into an open and a kept half;
- ``engrave``: a part as PDF, by engraver;
- ``abc``: a part in ABC notation, for an engraver that doesn't read MusicXML;
- ``truth``: what stands in the part, by an independent reader (music21);
- ``compare``: what was read against the truth, note by note.
"""
