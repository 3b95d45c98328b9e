"""Counting of checks: each is named, each that fails says what was there instead."""
import re


class Checks:
    def __init__(self):
        self.passed, self.failed = 0, 0

    def __call__(self, holds, what, instead=""):
        if holds:
            self.passed += 1
        else:
            self.failed += 1
            print(f"FAILED: {what}: {instead}")

    def end(self):
        print(f"{self.passed} passed, {self.failed} failed")
        return 1 if self.failed or not self.passed else 0


def text_of(words):
    """Without spaces, which a page and a PDF break in different places."""
    return re.sub(r"\s+", "", words)
