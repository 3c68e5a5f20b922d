# make demo    everything from a fresh clone, then an invented plant judged and its dossier
# make test    everything from a fresh clone, then all tests
# make quick   no sound, book, simulation: < 20 s         make check   lint, format, types, spelling
# make bench   accuracy and speed against the goals     make docs    generated pages of docs/
PYTHON ?= python3
PY := .venv/bin/python
READY := .venv/.ready
export OPENBLAS_NUM_THREADS := 1
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.PHONY: demo test quick check bench docs lock clean

$(READY): pyproject.toml constraints.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "Python 3.11 or newer is needed; name one with make PYTHON=python3.12"; exit 1; }
	@test -x $(PY) || $(PYTHON) -m venv .venv || \
	  { echo "python3 lacks venv; on Debian: apt install python3-venv"; exit 1; }
	$(PY) -m pip install --quiet -c constraints.txt -e '.[dev]'
	@touch $(READY)

demo: $(READY)
	$(PY) -m runtrue demo

test: $(READY)
	$(PY) -m pytest -n 2 --dist worksteal --doctest-modules src tests

quick: $(READY)
	$(PY) -m pytest -n 2 -q -m "not sound and not database and not practice and not slow" --ignore=tests/truth tests

check: $(READY)
	.venv/bin/ruff check .
	.venv/bin/ruff format --check .
	.venv/bin/mypy
	.venv/bin/codespell

bench: $(READY)
	$(PY) -m bench

docs: $(READY)
	$(PY) -m tools.docs

# The lock holds no address; write it anew after changing the dependencies in pyproject.toml.
lock:
	uv pip compile --universal --python-version 3.11 --no-header --no-annotate --extra dev pyproject.toml -o constraints.txt

clean:
	rm -rf .venv demo-out bench-out .pytest_cache .mypy_cache .ruff_cache .hypothesis
