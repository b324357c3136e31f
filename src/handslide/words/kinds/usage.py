"""What is said of each kind of fact whose topic is ``usage``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    "usage.language": N_("there is no language {wish!q} here; these are: {known}"),
    "usage.paper": N_("{name!q} isn't a paper: there are {known}"),
    "usage.fit_rows": N_("give a file of notes, or --list for the notes to play"),
    "usage.horn_file_name": N_("{file}: a horn file ends in .toml"),
    "usage.tune_one_way": N_(
        "give one of: --open HZ with --valve HZ (or takes of both), --note F3=HZ, --main Bb3=HZ, "
        "--e-pull"
    ),
    "usage.tune_later_air": N_(
        "--play-temp-c goes with --main: loops don't depend on the temperature"
    ),
    "usage.tune_low": N_("--low and --max-pull-mm go with --e-pull"),
    "usage.tune_no_takes": N_("--e-pull takes no recordings"),
    "usage.tune_main_valves": N_("--main is without valves; with valves give --note"),
    "usage.tune_pair": N_("a pair is needed: the same note with --open HZ and --valve HZ"),
    "usage.no_report": N_("the drill {drill} needs a report with --from"),
    "usage.report_unused": N_("the drill {drill} takes no report: leave --from away"),
    "usage.note_or_follow": N_("give notes to hold or a score with --follow, not both"),
    "usage.not_with_follow": N_("{option} doesn't go with --follow"),
    "usage.follow_only": N_("{option} goes with --follow only"),
    "usage.drone_from_alone": N_("--drone-from goes with --drone only"),
    "usage.date": N_("{text!q} isn't a date: write it as 2026-11-30"),
    "usage.range": N_("{text!q} isn't a range: write two notes, such as E2-F4"),
    # Translators: --valves is an option; valves is the name of a column and stays as it is.
    "usage.valves_of_a_class": N_(
        "--valves doesn't go with --class: write into the roster's column valves who uses which"
    ),
    # Translators: --existing check is an option; mark is another command.
    "usage.check_of_a_section": N_("--existing check goes with mark, for one part at a time"),
    # Translators: bell_mm is a key in a horn file and stays as it is.
    "usage.bell_of_a_class": N_(
        "--bell-mm doesn't go with --class: each horn file can have its own bell_mm"
    ),
    "usage.names": N_("{name!q} isn't a way to name notes: there are {known}"),
    # Translators: {sheet} is such as strip; it is typed as it stands, as --range and --sheet are.
    "usage.no_range": N_("--range doesn't go with --sheet {sheet}: it has no notes on a staff"),
    "usage.clef": N_("{name!q} isn't a clef: there are {known}"),
    "usage.sounds": N_("{name!q} isn't a way for a part to sound: there are {known}"),
    "usage.two_a4": N_("--a4 gives the tuning pitch and --estimate-a4 asks for it: choose one"),
    "usage.pdf_without_score": N_("--pdf prints how a part was played: give the part with --score"),
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "usage.password_file": N_("can't read the password in {file}: {reason}"),
    # Translators: --password-file and --address are options: leave them.
    "usage.password_missing": N_(
        "an address that other machines reach needs a password: give --password-file FILE or set "
        "{variable}, or leave --address out"
    ),
    "usage.password_short": N_("the password must have at least {least} characters"),
    # Translators: {help} is a command to type, such as "handslide mark --help".
    "usage.no_command": N_("there is no command {name!q}: {help!q} lists them"),
    # Translators: {option} is such as --tempo, {help} such as "handslide mark --help".
    "usage.no_option": N_("there is no option {option} here: {help!q} lists them"),
    # Translators: {known} are options that are written like {option}.
    "usage.option_near": N_("there is no option {option} here: was it {known:either}?"),
    "usage.option_value": N_("the option {option} needs a value"),
    "usage.option_alone": N_("the option {option} takes no value"),
    # Translators: {name} is such as FILE or --by, {help} such as "handslide mark --help".
    "usage.missing": N_("{name} is missing: see {help!q}"),
    # Translators: {words} is what was typed beyond what the command takes.
    "usage.too_much": N_("too much: {words}; put what belongs together in quotes, or see {help!q}"),
    # Translators: {name} is such as --paper or KIND.
    "usage.choice": N_("{name} must be {known:either}"),
    "usage.number": N_("{name} must be a number, such as 72 or 72.5"),
    "usage.whole_number": N_("{name} must be a whole number"),
    "usage.between": N_("{name} must be a number from {low} to {high}"),
}
