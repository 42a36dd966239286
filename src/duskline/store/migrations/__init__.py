"""The schema, step by step, as alembic runs it from inside the package."""
