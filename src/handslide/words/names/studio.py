"""Names of things of the studio's rooms and data."""

from collections.abc import Mapping

from handslide.words.messages import N_, NP_, Message

NAMES: Mapping[str, Mapping[str, Message]] = {
    "section": {
        "students": NP_("section", "Today"),
        "parts": N_("Parts"),
        # Translators: a short word, it stands in the bar of every page.
        "charts": NP_("section", "Charts"),
        "takes": N_("Takes"),
        "data": N_("Data"),
    },
    # Translators: the steps of a lesson, short: they stand in one line over the page.
    "lesson_step": {
        "tune": NP_("step of a lesson", "Tune"),
        "warm-up": NP_("step of a lesson", "Warm up"),
        "spots": NP_("step of a lesson", "Trouble spots"),
        "part": NP_("step of a lesson", "The part"),
        "take": NP_("step of a lesson", "Take"),
        "practise": NP_("step of a lesson", "What to practise"),
    },
    "done": {
        "settings": N_("The settings are kept."),
        "backup": N_("A backup was made."),
        "same": N_("Nothing has changed since the newest backup, so it is still good."),
        "kept": N_("The number is kept; older backups beyond it are gone."),
        "restored": N_("The backup is in place. What was here before is in a backup of its own."),
        "replaced": N_("The archive is in place. What was here before is in a backup of its own."),
        "added": N_("The students are added."),
        "forgotten": N_("The archive was put away; nothing here was changed."),
        "erased": N_("The recordings are deleted, here and in every backup."),
        "example_added": N_("The example studio is there again."),
        "example_removed": N_("The example studio is removed."),
    },
    "learning_done": {
        "yes": N_("It learns from your choices from now on."),
        "no": N_("No more choices are collected."),
        "undone": N_("It chooses as before that. Parts that are marked already stay as they are."),
        "redone": N_("It chooses so again."),
        "forgotten": N_("That part is forgotten; its places stay as they are."),
        "forgotten_note": N_("That choice is forgotten; the place stays as it is."),
        "forgotten_all": N_("Everything is forgotten; the places on the stands stay as they are."),
    },
    "theme": {
        "auto": N_("As the system has it"),
        "light": N_("Light"),
        "dark": N_("Dark"),
    },
    "backup": {
        "daily": N_("daily"),
        "before-erasing": N_("before a deletion"),
        "before-import": N_("before an import"),
        "before-restore": N_("before a restoring"),
        "before-migration": N_("before an update"),
    },
    "stored": {
        "people": N_(
            "Students: the name and what you write about them, reach, valves, wishes, your note "
            "of consent."
        ),
        "horns": N_("Horns: their values and where each came from."),
        "scores": N_("Parts: the files as you put them in, and the places you chose."),
        "takes": N_("Takes: which notes were heard, how high, where the slide was. Not the sound."),
        "recordings": N_(
            "Recordings: only with a note of consent and switched on for the student. Otherwise "
            "the sound stays in memory for an hour at most and is never written down."
        ),
        "learning": N_(
            "What it learnt from your choices: only with your yes on its page. Kept are the "
            "places you chose, up to where you looked at a part, your answers, and numbers that "
            "say how you choose. The choices go with the student, and you can let all be forgotten."
        ),
    },
}
