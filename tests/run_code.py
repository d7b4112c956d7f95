"""`python -m tests.run_code CODE [ARGUMENT...]`: run the code with Django set up, as a process of its own."""

import sys

import django

if __name__ == "__main__":
    django.setup()
    code = sys.argv.pop(1)
    exec(compile(code, "<test>", "exec"), {"__name__": "__main__"})
