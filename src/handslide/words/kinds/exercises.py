"""What is said of each kind of fact whose topic is ``exercises``: files of exercises."""

from collections.abc import Mapping

from handslide.words.messages import N_, NN_, Message

# Translators: words in a file of exercises (counted, through, keys, bars ...) stay as they are.
KINDS: Mapping[str, Message] = {
    "exercises.unknown": N_(
        "no exercises called {name!q} (there are {known}, or the path of a file of your own)"
    ),
    "exercises.unknown_near": N_(
        "no exercises called {name!q}: did you mean {near}? (there are {known}, or the path of a "
        "file of your own)"
    ),
    "exercises.unknown_here": N_("no exercises called {name!q} (there are {known})"),
    "exercises.is_folder": N_("{path} is a folder, not a file of exercises"),
    "exercises.too_large": N_("{path} is too large for a file of exercises"),
    "exercises.missing": N_("there is no file of exercises {path}"),
    "exercises.not_text": N_("{path} isn't text in UTF-8: is it a file of exercises?"),
    "exercises.unreadable": N_("can't read {path}: {reason}"),
    "exercises.not_toml": N_("{source} isn't valid TOML: {reason}"),
    "exercises.unknown_key": N_("unknown key {key!q}: known keys are {known}"),
    "exercises.unknown_key_near": N_("unknown key {key!q}: did you mean {near}?"),
    # Translators: what is wrong in a file.
    "exercises.in_file": N_("{source}: {cause}"),
    "exercises.in_exercise": N_("{source}, exercise {number:d}: {cause}"),
    "exercises.none": N_("there is no exercise in it: each begins with a line [[exercise]]"),
    "exercises.too_many": N_("{count:d} exercises are too many: {most:d} at most"),
    "exercises.no_bars": N_('bars are missing: give them such as bars = ["1:1 2:1 3:2"]'),
    # Translators: teacher, bars, ending are words of the file.
    "exercises.in_teacher": N_("teacher: {cause}"),
    "exercises.no_teacher": N_(
        "an exercise that goes through {through} can't have a teacher's voice: only one through "
        "{known}"
    ),
    "exercises.teacher_ending": N_(
        "an exercise with a teacher's voice has no ending: put it into bars"
    ),
    "exercises.teacher_bars": NN_(
        "teacher has one bar and bars has {bars:d}: both must be as long",
        "teacher has {count:d} bars and bars has {bars:d}: both must be as long",
    ),
    "exercises.choice": N_("{key} = {value!q}: choose one of {known}"),
    "exercises.number": N_("{key} = {value} must be a number from {low:d} to {high:d}"),
    "exercises.text": N_("{key} must be text in quotes, {most:d} letters at most"),
    "exercises.texts": N_('{key} must be texts in brackets, such as ["..."]'),
    "exercises.how_many": NN_(
        "{key} has one text: there can be 1 to {most:d}",
        "{key} has {count:d} texts: there can be 1 to {most:d}",
    ),
    "exercises.road": N_("what is counted in {counted} can't go through {through}: give {known}"),
    "exercises.no_way": N_("{key} means nothing where an exercise goes through {through}"),
    "exercises.word": N_(
        "bar {bar:d}: {word!q} isn't a note: it is what to play, a colon, its quarter notes and "
        "signs, such as 3:1/2( or r:1"
    ),
    "exercises.counted_word": N_("bar {bar:d}: {word!q} can't be where {counted} are counted"),
    "exercises.words": N_("bar {bar:d} has {count:d} notes: {most:d} at most"),
    # Translators: instead of the name of a file, of what was typed.
    "exercises.the_text": N_("the text"),
    "exercises.no_title": N_('a title is missing: begin with a line such as title = "Monday"'),
    "exercises.same_title": N_(
        "there are exercises called {title!q} already: change those, or give these another title"
    ),
    "exercises.many_files": N_("a studio keeps {most:d} files of exercises at most"),
    "exercises.no_file": N_("no file was chosen: choose a file of exercises (.toml)"),
    "exercises.gone": N_("no exercises with number {number:d} (any more)"),
    "exercises.bar_sum": N_("bar {bar:d} lasts {beats} quarter notes instead of {whole}"),
}
