"""The sentences that a studio of form 1 could keep, by table of `edges.store.oldsentences`."""

import re

SENTENCES = {
    "HABITS": [
        "The whole take is about 14 cents too high (on 9 of 10 notes): move the main tuning slide "
        "11 mm out, if the piano or the band agrees.",
        "Away from 1st the slide is about 12 mm too short everywhere (on 5 of 7 notes).",
        "After a move out the slide stops about 12 mm too short (on 5 of 7 notes).",
        "After a move out the slide goes about 12 mm too far out (on 5 of 7 notes).",
        "After a move in the slide stops about 9 mm too far out (on 3 of 3 notes, beyond the "
        "tuning).",
        "After a move in the slide comes back about 9 mm too short (on 3 of 3 notes).",
        "A long 2nd position with the F valve: about 27 mm too short on 9 of 9 notes.",
        "A raised 5th position: about 27 mm too far out on 9 of 9 notes, beyond the tuning.",
        "1st position: about 12 cents too high on 4 of 5 notes; the slide can't be shorter, so "
        "it's the lip or the tuning slide.",
        "1st position with the F and G♭ valves: about 12 cents too low on 4 of 5 notes; close the "
        "slide fully, and blow freely.",
        "Notes with the F and G♭ valves are about 11 cents too low (on 11 of 11 notes): the "
        "valve's own tuning slide may have to go in.",
        "Notes on the 6th partial are about 12 cents too high (on 8 of 9 notes), wherever the "
        "slide is: the horn or the lip.",
        "From 1st to a long 2nd with the F valve the slide is about 12 mm too far out (on 3 of 3 "
        "notes).",
        "From halfway between 3rd and 4th to 6th the slide is about 12 mm too short (on 3 of 3 "
        "notes).",
        "Notes begin about 30 cents too low and slide up on 5 of 9 notes.",
        "Notes begin about 30 cents too high and sink on 5 of 9 notes.",
        "Long notes sink about 20 cents to their end on 5 of 9 notes: keep the air on.",
        "Long notes climb about 20 cents on 5 of 9 notes.",
    ],
    "WHATS": ["E♭3 in T♭2", "G2", "E♭3 to F♯2 (♭2 to T3½)"],
    "WHYS": [
        "about 27 mm too far out on 9 of 9 notes",
        "about 11 cents too low on 11 of 12 notes",
        "15 cents too high once",
        "15 cents too low in the middle of 4 times",
        "wrong in measure 7",
        "not heard or stopped or started again in measures 3, 5, 7, 8, 9 and 2 more",
        "in another octave in measures 3, X1",
    ],
    "HOWS": [
        "slowly, then in time; let the slide arrive 12 mm further in before you tongue",
        "hold it against a drone, move the slide 12 mm further out until the beats stop",
        "start with air only, then a soft tongue, right on the pitch",
        "long notes with a steady stream of air to the very end",
        "hold it against a drone with and without the valve",
        "hold it against a drone and find where it rests",
        "hold it against a drone",
        "hold it against a drone until the beats stop, then play it in its place",
        "sing it, buzz it, then play it slowly with the note before it",
        "begin a measure earlier, as slowly as it takes to go through three times",
    ],
    "REMARKS": [
        "in tune", "14 cents too low", "12 cents too high, but too short or rough to be sure",
        "12 cents too low: lower than the end of the slide can sound",
        "12 cents too high: the slide can't be shorter: it's the lip or the tuning slide",
        "30 cents too low: lower than the marked place can sound: perhaps played in a long 2nd "
        "with the F valve, 12 mm too short",
        "30 cents too high: higher than the marked place can sound: perhaps played in 5th, 3 mm "
        "too far out",
        "30 cents too low: this is the pitch of the 5th partial with the slide closed: perhaps "
        "not played in the marked place",
        "30 cents too low: this is the pitch of the 5th partial with the slide closed with the F "
        "valve: perhaps not played in the marked place",
        "11 cents too low: slide not quite closed (12 mm), or the lip",
        "11 cents too low: slide 12 mm too far out",
        "11 cents too low: 12 mm too far out, if it was played in T1",
        "an octave too high", "2 octaves too low", "not in this take", "not heard",
        "not on this horn", "not sure what was played here", "played A♭2",
        "no place on this horn within the student's limits",
        "played A♭2: the partial above, with the slide in its place",
        "played C♯3: 2 partials below, with the slide in its place",
        "played A♭2: the slide was about in 3½",
        "ran together with the note before", "unsteady", "after a wait",
    ],
    "DOUBTS": [
        "Hardly a note of the take fits this part: is it the right one?",
        "Hardly a note fits, but all would 5 semitones lower: was it read in another clef or "
        "transposition?",
    ],
    "COUNTS": [
        "62 of 67 notes right", "3 wrong", "2 in another octave", "2 not heard", "4 not sure",
        "2 that aren't in the part", "2 played again",
        "1 note of the part is before or after this take",
        "2 notes of the part are before or after this take", "tempo 89 % of the part's",
        "1 note heard", "5 notes heard", "4 in tune to the ear",
        "3 that this horn doesn't have within the student's reach and valves",
    ],
    "HORNS": [
        "Tenor trombone in B♭ with F valve · A4 = 442.5 Hz · air in the horn 25 °C · slide 674 mm",
        "Dad's old horn · it's heavy · A4 = 440 Hz · air in the horn 20.5 °C · slide 650 mm",
    ],
    "LEFT_OUT": [
        "click", "noise", "too short", "sliding", "no steady pitch", "hum", "struck string",
        "several pitches at once",
    ],
    "WARNINGS": [
        "3 of 9 notes are clipped: their pitch can be trusted, their level can't; record with "
        "less gain",
        "the take is silent", "no note was found in the take",
        "there is no note to estimate A4 from: 440 Hz is used",
        "the notes don't agree on a tuning pitch: the estimate of A4 is weak",
    ],
}  # fmt: skip

# What has been said better since then.
BETTERED = (
    (r"(\d+ cents too (?:low|high)) in the middle of (\d+ times)", r"about \1, \2"),
    (r"can't be shorter: it's", r"can't be shorter, so it's"),
    (r" (can sound|closed|valve): perhaps", r" \1; perhaps"),
)


def as_told_today(sentence):
    """The same sentence in today's words."""
    for before, after in BETTERED:
        sentence = re.sub(before, after, sentence)
    return sentence
