"""Properties take as long as the machine takes, and try the same examples every time."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
