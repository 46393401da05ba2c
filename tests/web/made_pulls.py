"""Job sheets and recordings for the app's stories, made from a kept test's own: the same valve on another day."""

import csv
import io
import re

import numpy as np


class Pulls:
    """A kept recording whose force, lift and sound are changed as another day would change them."""

    def __init__(self, sheet, recording, *, every=4):
        rows = list(csv.reader(io.StringIO(recording.decode())))
        self.sheet, self.names = sheet, rows[0]
        # a quarter of the samples is plenty for a story, and quicker
        self.values = np.array(rows[1:], dtype=float)[::every]

    def column(self, *words):
        return [i for i, name in enumerate(self.names) if any(word in name for word in words)]

    def changed(self, *, force=1.0, repeat=1, still_from_s=None, open_after=False):
        """Give the recording as bytes.

        ``force`` scales the pull, ``repeat`` puts it several times in a row; ``still_from_s``: lift and sound stay at
        rest, as if the valve were stuck; ``open_after``: lift and sound stay at their top, as if it did not shut.
        """
        values = self.values.copy()
        values[:, self.column("cell", "force")] *= force
        if still_from_s is not None:
            for i in self.column("lift", "acoustic", "sound"):
                quiet = values[values[:, 0] < still_from_s, i]
                values[:, i] = np.resize(quiet, values.shape[0])
        if open_after:
            lift, sound = self.column("lift")[0], self.column("acoustic", "sound")[0]
            top = int(np.argmax(values[: values.shape[0] // 2, lift]))
            values = values[: values.shape[0] // 2]
            for i in (lift, sound):
                values[top:, i] = np.resize(values[max(top - 50, 0) : top, i], values.shape[0] - top)
        long = values[-1, 0] - values[0, 0] + (values[1, 0] - values[0, 0])
        pieces = [np.column_stack([values[:, 0] + long * n, values[:, 1:]]) for n in range(repeat)]
        text = io.StringIO()
        text.write(",".join(self.names) + "\n")
        np.savetxt(text, np.concatenate(pieces), fmt="%.7g", delimiter=",")
        return text.getvalue().encode()

    def files(self, name, recording, *, tag="", purpose="as-found", date=""):
        """Give the two files of one job sheet, as the app's form takes them."""
        sheet = re.sub(r'^file = ".*"', f'file = "{name}.csv"', self.sheet, flags=re.MULTILINE)
        sheet = sheet.replace('purpose = "as-found"', f'purpose = "{purpose}"')
        if date:
            sheet = re.sub(r"^date = .*$", f"date = {date}", sheet, flags=re.MULTILINE)
            sheet = re.sub(r"^started_at = .*\n", "", sheet, flags=re.MULTILINE)
        if tag:
            sheet = re.sub(r'^tag = ".*"', f'tag = "{tag}"', sheet, flags=re.MULTILINE)
        return [(f"{name}.toml", sheet.encode()), (f"{name}.csv", recording)]
