"""Programs that feed bytes to what reads them, led by the branches that they reach (atheris, libFuzzer)."""
