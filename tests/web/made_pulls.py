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

    def changed(self, *, force=1.0, first=1.0, repeat=1, stays_open=False):
        """Give the recording as bytes.

        ``force`` scales the pull, ``first`` that of the first pull once more, as if a bond had held; ``repeat`` puts
        the recording several times in a row; ``stays_open``: lift and sound stay at their top after the first pull.
        """
        values = self.values.copy()
        half = values.shape[0] // 2
        cells = self.column("cell", "force")
        values[:, cells] *= force
        values[:half, cells] *= first
        if stays_open:
            values = values[:half]
            top = int(np.argmax(values[:, self.column("lift")[0]]))
            for i in self.column("lift", "acoustic", "sound"):
                values[top:, i] = np.resize(values[max(top - 50, 0) : top, i], values.shape[0] - top)
        long = values[-1, 0] - values[0, 0] + (values[1, 0] - values[0, 0])
        pieces = [np.column_stack([values[:, 0] + long * n, values[:, 1:]]) for n in range(repeat)]
        text = io.StringIO()
        text.write(",".join(self.names) + "\n")
        np.savetxt(text, np.concatenate(pieces), fmt="%.7g", delimiter=",")
        return text.getvalue().encode()

    def files(self, name, recording, *, purpose="as-found", on=None, **said):
        """Give the two files of one job sheet, as the app's form takes them; ``said`` are texts of its keys."""
        dated = self.sheet if on is None else re.sub(r"^date = .*$", f"date = {on}", self.sheet, flags=re.MULTILINE)
        sheet = dated.replace('purpose = "as-found"', f'purpose = "{purpose}"')
        for key, text in {"file": f"{name}.csv", **said}.items():
            sheet = re.sub(rf'^{key} = ".*"', f'{key} = "{text}"', sheet, count=1, flags=re.MULTILINE)
        return [(f"{name}.toml", sheet.encode()), (f"{name}.csv", recording)]
