"""How far a note may be off before it is heard: what counts as in tune.

Amateurs notice about 10 cents in small melodic intervals (Hill and Summers, J. Acoust. Soc.
Am. 2007, doi 10.1121/1.2697059). Trained ears may reach 2 to 3 cents on single tones (from memory);
5 is common practice among teachers.
"""

# What was played counts as in tune up to here.
IN_TUNE_CENTS = 10.0
# What is aimed at, tuned or chosen for somebody is in tune up to here: a trained ear won't hear it.
TRAINED_EAR_CENTS = 5.0
