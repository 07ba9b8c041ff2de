"""Table of what a body reaches in the boot frame: it ranks and prunes, it decides nothing."""
