# A few kills of a journalled run and of a sweep; `make kills` does many.
exec sh "$(dirname "$0")/../faults/kills.sh" 5
