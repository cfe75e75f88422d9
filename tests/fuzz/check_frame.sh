#!/usr/bin/env bash
# Replays the kept inputs: good files of every kind, and damaged ones that once did harm.
exec "$BUILD/tests/fuzz/fuzz_frame" tests/fuzz/corpus/frame/*
