"""What is said of each kind of fact whose topic is ``web``."""

from collections.abc import Mapping

from handslide.words.messages import N_, Message
from handslide.words.tellers import Teller

KINDS: Mapping[str, Message | Teller] = {
    # Where the studio is reached.
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "web.no_address": N_("there is no address {address!q} to listen at: {reason}"),
    # Translators: {reason} is the system's own word, such as "Permission denied".
    "web.cannot_listen": N_(
        "can't listen at {address}, port {port}: {reason}; a port from 1024 to 65535 and an "
        "address of this machine work"
    ),
    "web.high_port": N_("there is no port above 65535"),
    "web.ports_taken": N_("no port from {first} to {last} is free: choose another"),
    "web.reached_at": N_("Other machines reach it at {url}, with the password (any name)."),
    # Translators: the address is that of the machine, followed by a colon and this number.
    "web.reached_at_port": N_(
        "Other machines reach it at this machine's address with :{port}, with the password (any "
        "name)."
    ),
    "web.not_encrypted": N_(
        "The connection isn't encrypted: whoever listens on this network can read it, and the "
        "password. Use it only in a network that you trust."
    ),
    "web.no_microphone": N_(
        "Browsers give the microphone only to pages of their own machine, unless https is set up: "
        "record takes here, or upload them."
    ),
    "web.behind_proxy": N_(
        "Other machines reach it at https://{host}, with the password (any name)."
    ),
    "web.no_public": N_(
        "{text!q} isn't a host: give the name at which the proxy is reached, such as "
        "studio.example.org"
    ),
    # What a form or an address sent.
    "web.no_number": N_("this address holds something that isn't a number: go back and try again"),
    "web.not_their_horn": N_("this horn isn't this student's (any more)"),
    "web.no_page": N_("this sheet has no such page: pages are counted from 1"),
    "web.no_tempo": N_("{text!q} isn't a tempo: write quarter notes a minute, as 80"),
    "web.no_reach": N_("{text!q} isn't a reach: give a position such as 6 or 5.5"),
    "web.large_file": N_(
        "{file} is larger than {most_mb:.0f} MB, the most that can be taken here: is it the right "
        "file?"
    ),
    "web.no_seed": N_("{text!q} isn't a sheet's number: give 0 to {most}"),
    "web.no_a4": N_("A4: {text!q} isn't a number; write it like 440"),
    "web.no_air": N_("the air in the horn: {text!q} isn't a number; write it like 25"),
    "web.no_travel": N_("the slide's travel: {text!q} isn't a number; write it like 670"),
    "web.no_bell": N_("the bell's rim: {text!q} isn't a number; write it like 200"),
    "web.no_pedals": N_("pedals: {text!q} isn't a choice"),
    "web.no_lipping": N_("the lipping: {text!q} isn't a number; write it like 20"),
    "web.no_measured_air": N_("the air measured in: {text!q} isn't a number; write it like 25"),
    "web.no_version": N_("say which version is to be used again: choose one from the history"),
    "web.no_archive": N_(
        "no file was chosen: choose an archive, a file such as studio-2026-11-25.zip"
    ),
    "web.archive_way": N_(
        "choose whether the archive replaces what is here or its students are added"
    ),
    "web.no_backups": N_("{text!q} isn't a number of backups: write one from 1 to {most}"),
    "web.no_student_here": N_("this isn't a student of the studio: begin again on the page Data"),
    # What the studio answers when something can't be done.
    # Translators: {reason} is the system's own word, such as "No space left on device".
    "web.no_room": N_("what was sent can't be held on this computer: {reason}"),
    "web.too_many_tries": N_(
        "Too many wrong passwords were tried. Wait ten seconds, then try again."
    ),
    "web.missing": N_("There is no page at this address, or what it showed was deleted."),
    "web.method": N_("That can't be done at this address. Begin at the studio's first page."),
    "web.slow": N_(
        "The sending stopped or was too slow, so the studio gave up. Nothing was kept; send "
        "it once more."
    ),
    "web.too_large": N_(
        "That is more than can be sent here at once. Scores may have 20 MB each, takes 300 "
        "MB, a studio's archive 64 GB. Was another file meant?"
    ),
    "web.unread": N_(
        "What was sent can't be read as this page's form. Go back, load the page again and "
        "send it once more."
    ),
    "web.foreign": N_(
        "This request didn't come from a page of this studio, so nothing was done. Open the "
        "studio's own page and do it there."
    ),
    "web.host": N_(
        "The studio answers at {address} on its own machine, or at the address that it was "
        "started with."
    ),
    "web.width": N_("there is no width {name!q}: {known}"),
    "web.no_piece": N_("the music has no piece {number}"),
    "web.no_student": N_("choose a student first"),
    "web.no_correction": N_("nothing was chosen to be put right"),
    "web.no_score": N_("no file was chosen: choose one or more scores (.musicxml, .mxl)"),
    "web.choice": N_("this choice couldn't be read: load the page again"),
    "web.locked": N_("This studio has a password. Load the page again and give it."),
    "web.broken": N_(
        "The studio made a mistake. What you saved before is safe; go back and try again. "
        "The terminal of handslide studio shows what happened."
    ),
}
