"""Answer the commands; only :mod:`trainer.cli` prints what they say."""
