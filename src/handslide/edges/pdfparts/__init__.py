"""Parts that exist as PDF: read from what a page draws, marked on the same pages.

A page exported by a notation program is no picture: staff lines, heads and signs stand in it as
glyphs and paths at exact places. `content` says what is drawn, `signs` what a shape means, `staves`
and what follows make notes in time of it (`reading`), `score` writes them as MusicXML, and
`overlay` puts marks into free room of the same pages.

Coordinates are *seen* points (1/72 inch): the page as a reader sees it, cropped and turned, from
its lower left corner, y up.
"""
