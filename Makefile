# Everything the project needs, from a fresh clone: `make demo`, then `make test`.
PYTHON ?= python3.11
VENV := .venv
BIN := $(VENV)/bin

.PHONY: test lint

lint:
	ruff check .
	ruff format --check .
	mypy
	lint-imports

test: lint
	pytest
