# Everything goes into a local environment; nothing outside this folder is touched.
PYTHON ?= python3
VENV   ?= .venv
BIN    := $(VENV)/bin

.PHONY: run test check device bench wheel recordings clean help

help:
	@echo "make run         install, then open the watch on the boathouse scene"
	@echo "make test        install, then run every test that needs no device"
	@echo "make check       lint and strict types"
	@echo "make device      tests on the kernel's virtual camera and loopback sound card, in QEMU"
	@echo "make bench       what measuring and drawing cost, as ratios in one run"
	@echo "make wheel       build the wheel and try it in a clean environment elsewhere"
	@echo "make recordings  render the demo clips again"

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "stopkeeper needs Python 3.11 or newer; try: make PYTHON=python3.13" >&2; exit 2; }
	@$(PYTHON) -m venv $(VENV) || \
	  { echo "python3 has no venv; install it with: sudo apt install python3-venv" >&2; rm -rf $(VENV); exit 2; }

$(VENV)/.run: pyproject.toml | $(BIN)/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	@touch $@

$(VENV)/.test: pyproject.toml | $(BIN)/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test,check]'
	@touch $@ $(VENV)/.run

run: $(VENV)/.run
	@$(BIN)/stopkeeper watch scene:boathouse

test: $(VENV)/.test
	$(BIN)/python -m pytest

check: $(VENV)/.test
	$(BIN)/ruff check .
	$(BIN)/mypy

device: $(VENV)/.test
	bash tests/device/rig.sh $(VENV)/device $(abspath $(BIN))/python -m pytest -q --color=no -p no:cacheprovider -o addopts=  tests/device
	$(BIN)/python -m tests.device.power_cut $(VENV)/power --rounds 3

bench: $(VENV)/.test
	$(BIN)/python -m tests.bench

wheel: $(VENV)/.test
	$(BIN)/python -m tests.house.wheel_check

recordings: $(VENV)/.run
	$(BIN)/python -m analysis.feed.scene.clips recordings

clean:
	rm -rf $(VENV) build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
