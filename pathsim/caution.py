"""The cautions that stand wherever a result is shown."""

CAUTION = (
    "Preview of the model supplied, not a safety function; clear here does not mean safe. "
    "First run slow, arc off, hold-to-run: manual reduced speed with the enabling device held; "
    "automatic only with nobody inside the guard. "
    "Local codes and qualified people decide."
)
