# A few calls of the system that go wrong; `make calls` takes every one.
exec sh "$(dirname "$0")/../faults/calls.sh" 29 3
