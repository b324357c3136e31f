"""What a caring teacher says again and again: about hearing, and about hands and lips."""

from handslide.words.messages import N_

# With every sound that is held or played along with.
HEARING = N_("Begin softly, with headphones above all: long loud listening harms hearing.")
# On every sheet to practise from.
OVERUSE = N_(
    "Far positions and long practice can hurt, above all a growing player: rest when something "
    "hurts, and never stretch for a position."
)
