"""The cautions that stand wherever a result is shown."""

CAUTION = (
    "Preview of the model supplied, not a safety function; clear here does not mean safe. "
    "First run slow, arc off, hold-to-run, nobody in the safeguarded space. "
    "Local codes and qualified people decide."
)
