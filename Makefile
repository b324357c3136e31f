# Two commands do all the set-up: `make demo` and `make test`.
VENV ?= .venv
BIN := $(VENV)/bin
OUT ?= demo-out
OLD ?= .venv-oldest

.PHONY: demo test check sweep catalogues pictures docs bench roundtrip pdfparts clean fuzz limits lock locked vulnerable \
	wheel-test sbom oldest licences coverage mutants

demo: $(VENV)/.ready
	rm -rf "$(OUT)"
	$(BIN)/handslide mark examples/lanterns.musicxml --horn tenor-f --student "Mira Holt" -o "$(OUT)"

# One process more than there are processors: who waits for a browser leaves its processor to another.
# In the order of the files the browser's come first; by the number of tests the longest came last.
test: $(VENV)/.ready-dev check
	sh scripts/get_browser.sh
	PYTHONDONTWRITEBYTECODE= $(BIN)/python -m pytest -n $$(($$(getconf _NPROCESSORS_ONLN) + 1)) --dist loadfile \
		--no-loadscope-reorder -m "not alone"
	$(BIN)/python -m pytest -m alone tests/browser

check: $(VENV)/.ready-dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	sh scripts/check_types_of_scripts.sh

# Long sweeps whole: every printed reason against the numbers, over many more lines, every horn and
# profile, and all scores under SCORES (any folder of parts); 200 seeds of each kind of sheet; a library
# of 500 parts with all that can go wrong; then all cases of the tests of which the suite runs a sample.
SCORES ?=
sweep: $(VENV)/.ready-dev
	HANDSLIDE_SWEEP_LINES=40 HANDSLIDE_SWEEP_SCORES="$(SCORES)" HANDSLIDE_SWEEP_SEEDS=200 \
		HANDSLIDE_SWEEP_HORNS=60 HANDSLIDE_SWEEP_LIBRARY=500 \
		$(BIN)/python -m pytest -q tests/unit/test_drill_shares.py tests/unit/test_drills_special.py \
		tests/unit/test_drill_sheets.py tests/unit/test_sheet_notes.py tests/unit/test_reason_truth.py tests/unit/test_positions_told.py \
		tests/unit/test_fit_lessons.py tests/regression/test_library_faults.py
	HANDSLIDE_SWEEP_CASES=1 $(BIN)/python -m pytest -q -m sample tests
	HANDSLIDE_SWEEP_CASES=1 $(BIN)/python -m pytest -q -m "not sample" \
		$$(grep -rlE '^(from|import) (shares|sampling|studio_walk)( |$$)' tests --include='test_*.py')

# Lines and branches of the core (places, hands, ears) that its own tests reach, at most
# three cases of each: a table, and an error under 95 %.
CORE_TESTS := $(addprefix tests/unit/test_, $(addsuffix .py, api blame docs_effort drone existing fit fit_lessons follow habits harmony_drone horn \
	hornfiles invented_teachers learning learnt_profiles listen listened listening \
	livefollow mark_job markreading marks one_note other_systems pitch playalong playing \
	positions_told profile_words progress reason_truth reasons route routine settle \
	sheet_notes showing slide_motion sound_hum sound_notes sound_octaves sound_onsets \
	sound_track studio_fitting studio_progress studio_tuning transpose trills tune_cli ways)) \
	$(addprefix tests/reference/test_, $(addsuffix .py, air harmony intervals places practice route_shortest_path \
	sound_refine sound_takes true_figures true_parts true_takes tuning))
coverage: $(VENV)/.ready-quality
	rm -rf build/coverage && mkdir -p build/coverage
	HANDSLIDE_SWEEP_CASES=1 PYTHONPATH=scripts $(BIN)/python -m coverage run -m pytest -q -p reached $(CORE_TESTS)
	$(BIN)/python -m coverage report

# Small faults put into the core, one at a time: which do the nearest tests notice? Needs what
# `make coverage` leaves in build/, and about an hour of one processor; stopped, it goes on another time.
mutants: $(VENV)/.ready-quality
	$(BIN)/python scripts/mutants.py

# The source archive and the wheel, built; the wheel installed where nothing else is, and used there.
wheel-test: $(VENV)/.ready-dev
	$(BIN)/python scripts/wheel_test.py

# What comes along with the wheel, as a list for programs (CycloneDX).
sbom: $(VENV)/.ready-dev
	$(BIN)/python scripts/wheel_test.py --sbom sbom.json

# The page of the licences, from what is installed.
licences: $(VENV)/.ready-dev
	$(BIN)/python scripts/licences.py

# The oldest versions that pyproject.toml allows, with the tests of what uses each of them.
OLD_TESTS := $(addprefix tests/unit/test_, $(addsuffix .py, horn fit learning musicxml_read \
	musicxml_marks otherscores typesetting engraving audio sound_track pdf_content pdf_overlay \
	handout roster safexml cli studio_https studio_parts studio_store extras)) \
	tests/reference/test_air.py tests/reference/test_places.py
# What takes longest, or reads large files by the clock.
OLD_LEFT_OUT := every_shared_file or converted_scores or never_saw or one_horn_does_not or independent_reader
oldest: $(OLD)/.ready
	$(OLD)/bin/python -m pytest -q -W ignore::DeprecationWarning \
		-k "not ($(OLD_LEFT_OUT))" $(OLD_TESTS)

# Collects all messages of the code and the templates into the catalogues of the languages.
catalogues: $(VENV)/.ready-dev
	$(BIN)/python scripts/catalogues.py

# The pictures of the README, from the example studio in a real browser (ONLY names some of them), of the
# gallery and of the first lesson.
pictures: $(VENV)/.ready-dev
	sh scripts/get_browser.sh
	$(BIN)/python scripts/make_pictures.py $(ONLY)
	$(BIN)/python scripts/make_gallery.py
	$(BIN)/python scripts/follow_lesson.py

# The documents as pages, every warning an error. Nothing is fetched, neither now nor by who reads them.
docs: $(VENV)/.ready-docs
	rm -rf build/docs/html
	$(BIN)/python -m sphinx -q -W --keep-going -b html -d build/docs/doctrees docs build/docs/html
	$(BIN)/handslide handout examples/boats.musicxml --horn tenor-f --reach 6 -o build/docs/html/boats.html
	$(BIN)/python scripts/check_site.py build/docs/html
	@echo "build/docs/html/index.html"

# Marked scores in other people's readers, for developers: what isn't there is skipped and said so.
roundtrip: $(VENV)/.ready-dev
	sh scripts/get_readers.sh
	sh scripts/get_browser.sh
	$(BIN)/python -m pytest tests/roundtrip/readers.py

# Parts that other people's programs engraved to PDF, read and held against their scores: what isn't on
# the machine is left out. Half an hour, most of it the engravers'; they run only once.
pdfparts: $(VENV)/.ready-dev
	sh scripts/get_readers.sh
	$(BIN)/python benchmarks/pdf_parts.py

# Mutated scores, archives, sounds, horns, reports and requests for MINUTES; what is found becomes a
# file of tests/regression/found, and a table stands at the end.
fuzz: $(VENV)/.ready-dev
	$(BIN)/python tests/fuzz/run.py --minutes $(MINUTES)

# The page of the limits, from the code.
limits: $(VENV)/.ready-dev
	$(BIN)/python scripts/limits.py

# The hashes of what constraints.txt and pyproject.toml pin, for installs that look at each file.
lock: $(VENV)/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check pip-tools
	sh scripts/lock.sh "$(BIN)/pip-compile"

# An environment of exactly the files that the lock names.
locked: $(VENV)/bin/python
	$(BIN)/python -m pip install --require-hashes --no-deps -r locked/build.txt
	$(BIN)/python -m pip install --require-hashes --no-deps -r locked/requirements.txt
	$(BIN)/python -m pip install --no-deps --no-build-isolation .

# Known vulnerabilities of what is locked. Asks a service on the network; fails where it has no answer.
vulnerable: $(VENV)/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check pip-audit
	$(BIN)/pip-audit --strict --require-hashes --disable-pip -r locked/requirements.txt

# About a quarter of an hour, most of it the simulated horns of fitting.py.
bench: $(VENV)/.ready-dev
	$(BIN)/python benchmarks/run.py
	$(BIN)/python benchmarks/hearing.py
	$(BIN)/python benchmarks/hearing_takes.py --beside all
	$(BIN)/python benchmarks/following.py
	$(BIN)/python benchmarks/listening.py
	$(BIN)/python benchmarks/practice.py
	$(BIN)/python benchmarks/practice_sound.py
	$(BIN)/python benchmarks/clip.py
	$(BIN)/python benchmarks/harmony.py --half all
	$(BIN)/python benchmarks/studio_choose.py
	$(BIN)/python benchmarks/studio.py
	$(BIN)/python benchmarks/stage_latency.py
	$(BIN)/python benchmarks/studio_browser.py
	$(BIN)/python benchmarks/profiles.py corrections speed --teachers 3 --most 20
	$(BIN)/python benchmarks/fitting.py
	$(BIN)/python benchmarks/pdf_signs.py

clean:
	rm -rf $(VENV) $(OLD) node_modules tests/roundtrip/node_modules "$(OUT)" .pytest_cache .mypy_cache .ruff_cache .hypothesis

$(VENV)/bin/python:
	sh scripts/make_venv.sh "$(VENV)"

$(VENV)/.ready: $(VENV)/bin/python pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[all]'
	touch $@

$(VENV)/.ready-dev: $(VENV)/bin/python pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[all,dev]'
	touch $@

$(VENV)/.ready-quality: $(VENV)/.ready-dev
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[quality]'
	touch $@

$(VENV)/.ready-docs: $(VENV)/bin/python pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[docs]'
	touch $@

$(OLD)/.ready: pyproject.toml oldest.txt
	sh scripts/make_venv.sh "$(OLD)" python3.11
	$(OLD)/bin/python -m pip install --quiet --disable-pip-version-check -c oldest.txt -e '.[all]' \
		hypothesis pytest httpx
	touch $@
