# Everything the project needs, from a fresh clone: `make demo`, then `make test`.
# PYTHON may name another interpreter (3.11 or newer): make test PYTHON=python3.13
PYTHON ?= $(shell command -v python3.11 || command -v python3)
VENV := .venv
BIN := $(VENV)/bin
OUT := out

# What the tests of real parts need from Debian: the firmware's compilers and a simulated chip (npm
# brings the other), a browser for the page, a message bus for Bluetooth, and compilers for the native
# builds. clang's fuzzer and sanitizers are a package of their own, which clang may not even recommend.
# Then the database of a large club, the cross compiler of the second chip, and shells to type into.
DEBIAN_PACKAGES := gcc make libc6-dev gcc-avr binutils-avr avr-libc libsimavr-dev libelf-dev \
	pkg-config cppcheck clang libclang-rt-dev chromium-headless-shell dbus firefox-esr \
	fonts-dejavu-core fonts-dejavu-extra postgresql gcc-arm-none-eabi libnewlib-arm-none-eabi \
	zsh fish

# Where Python keeps nothing of what it compiled, every command of a test reads all its code anew: a
# check takes 1.5 s instead of 0.4, and each process that runs tests reads the tests for a minute.
unexport PYTHONDONTWRITEBYTECODE

DEMO_PROGRAM := programs/thursday-juniors.feed

# Installs Debian packages where it may (root, or sudo without a password); else says the command.
define debian_install
missing=$$(for p in $(1); do dpkg-query -W -f '$${Status}' $$p 2>/dev/null | grep -q 'ok installed' \
	|| echo $$p; done); \
if [ -n "$$missing" ]; then \
	if [ "$$(id -u)" = 0 ]; then may=; elif sudo -n true 2>/dev/null; then may=sudo; else may=no; fi; \
	if [ "$$may" = no ] || ! command -v apt-get >/dev/null; then \
		echo "These packages are missing and may not be installed from here:" $$missing; \
		echo "Install them with this one command, then run make again:"; \
		echo "sudo apt-get update && sudo apt-get install --no-install-recommends" $$missing; \
		exit 1; \
	fi; \
	$$may apt-get update -qq && \
	$$may env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
		$$missing >/dev/null; \
fi
endef

.PHONY: help demo club test tests-read tests-quick tests-in-real-time lint prove guide vsix lock install-debian clean clean-machine

help:
	@echo "make demo   set up, then check, draw and rehearse a shipped program"
	@echo "make club   an invented club to look at: its server, and courts on simulated launchers"
	@echo "make test   set up everything, then run every test"
	@echo "make lock   every package of the environment by version and hash, and the list of parts"
	@echo "make lint   ruff, mypy --strict (as on Linux, Windows and macOS) and the walls between the floors"
	@echo "make prove  prove the firmware's fence and its callers for every input and interleaving"
	@echo "make guide  the pages of the project as one site, to be read from its files"
	@echo "make vsix   the extension for editors that take a .vsix, as one file"
	@echo "make clean  remove the environment and what was built"
	@echo "make clean-machine   the first two, on a Debian that has never seen the project (as root)"

demo: $(BIN)/feedscript
	@mkdir -p $(OUT)
	$(BIN)/feedscript check $(DEMO_PROGRAM)
	$(BIN)/feedscript draw $(DEMO_PROGRAM) -o $(OUT)/demo.svg
	$(BIN)/feedscript draw $(DEMO_PROGRAM) -o $(OUT)/demo.png
	$(BIN)/feedscript rehearse $(DEMO_PROGRAM)
	@echo "The picture is in $(OUT)/demo.svg and $(OUT)/demo.png"

club: $(VENV)/.club-installed
	$(BIN)/feedscript club serve --demo

$(VENV)/.club-installed: $(BIN)/python pyproject.toml
	$(BIN)/python -m pip install --quiet --editable '.[club]'
	@touch $@

# Three things at once. Tests in real time mostly wait, so that the others fill the gaps; those, and
# the linters, stand back whenever a lesson in real time wants the processor.
# The two installations before them wait for different servers; and what four processes are about to
# read, one has read and kept by then.
test: $(BIN)/python
	$(MAKE) --jobs=2 install-debian tests-read
	$(MAKE) --jobs=3 tests-in-real-time tests-quick lint

STAND_BACK := nice -n 19
# One more than there are cores on a small machine: browsers and pseudo-terminals are waited for.
WORKERS ?= 3

tests-read: $(VENV)/.tests-installed
	@$(BIN)/python -m pytest --collect-only -q >/dev/null 2>&1 || true

tests-quick: $(VENV)/.tests-installed
	$(STAND_BACK) $(BIN)/python -m pytest -n $(WORKERS) --dist loadfile --no-loadscope-reorder \
		-m "not real_time" --durations=40 --durations-min=2

tests-in-real-time: $(VENV)/.tests-installed
	$(BIN)/python -m pytest -m real_time

install-debian:
	@$(call debian_install,$(DEBIAN_PACKAGES))

# Before every release: the README's commands, as root and as an ordinary user (WHO=root or WHO=user
# for one of them). Takes two runs of everything.
WHO ?= root user
clean-machine:
	@[ "$$(id -u)" = 0 ] || { echo "This builds another Debian: sudo make clean-machine"; exit 1; }
	@$(call debian_install,mmdebstrap)
	@tests/clean_machine.sh $(WHO)

lint: $(VENV)/.tests-installed
	$(STAND_BACK) $(BIN)/ruff check .
	$(STAND_BACK) $(BIN)/ruff format --check .
	$(STAND_BACK) $(BIN)/mypy
	$(STAND_BACK) $(BIN)/mypy --platform win32 --cache-dir .mypy_cache/win32
	$(STAND_BACK) $(BIN)/mypy --platform darwin --cache-dir .mypy_cache/darwin
	PYTHONPATH=drivers:simulator $(STAND_BACK) $(BIN)/lint-imports

prove: $(VENV)/.tests-installed
	$(BIN)/python -m tests.firmware.proof

# Messages and commands are told from the code, whatever extra they belong to.
guide: $(VENV)/.tests-installed
	NO_MKDOCS_2_WARNING=1 $(BIN)/python -m mkdocs build --quiet
	@echo "The guide is in $(OUT)/guide/index.html"

vsix: $(VENV)/.tests-installed
	$(BIN)/python -m feedscript.editor.extension.build

# Every package of the development environment in one version, with the hashes of its files; and the
# list of parts (SBOM, CycloneDX) of an environment that is installed from it. Anew whenever
# pyproject.toml asks for other packages, and before a release.
LOCKED := $(VENV)-locked
BUILD_NEEDS = $(BIN)/python -c 'import tomllib; print(*tomllib.load(open("pyproject.toml", \
	"rb"))["build-system"]["requires"], sep="\n")'
lock: $(BIN)/python
	$(BIN)/python -m pip install --quiet --editable '.[lock]'
	$(BUILD_NEEDS) | $(BIN)/uv pip compile pyproject.toml - --extra test --universal --upgrade \
		--generate-hashes --no-header --quiet -o requirements-dev.txt
	$(PYTHON) -m venv --clear --without-pip $(LOCKED)
	$(BIN)/python -m pip --python $(LOCKED)/bin/python install --quiet --require-hashes \
		-r requirements-dev.txt
	$(BIN)/cyclonedx-py environment $(LOCKED) --pyproject pyproject.toml --output-reproducible \
		| $(BIN)/python .ci/without_addresses.py >sbom.cdx.json
	rm -rf $(LOCKED)

# An environment without pip inside means that Debian keeps venv in a package of its own.
$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "feedscript needs Python 3.11 or newer; say which: make PYTHON=python3.11 ..."; exit 1; }
	@$(PYTHON) -c 'import ensurepip' 2>/dev/null || { $(call debian_install,python3-venv); }
	$(PYTHON) -m venv $(VENV)

$(BIN)/feedscript: $(BIN)/python pyproject.toml
	$(BIN)/python -m pip install --quiet --editable '.[plots]'
	@touch $@

$(VENV)/.tests-installed: $(BIN)/python pyproject.toml
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	@touch $@ $(BIN)/feedscript

clean:
	rm -rf $(VENV) $(OUT) build dist
	$(MAKE) -C drivers/firmware clean
