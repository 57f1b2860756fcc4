# A few kills of a journalled run and of sweeps; `make kills` does many.
exec sh "$(dirname "$0")/../faults/kills.sh" 5
