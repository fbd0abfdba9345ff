"""Write a workbook as the same bytes each time: no clock in it, and on the disk in one piece."""

import datetime
import io
import shutil
import zipfile

_EARLIEST = datetime.datetime(1980, 1, 1)  # the first day an archive knows


def write(path, book):
    """Write a workbook.

    Parameters
    ----------
    path : pathlib.Path
    book : openpyxl.Workbook
        Its properties name one time for all workbooks.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    from openpyxl.writer.excel import ExcelWriter

    book.properties.creator, book.properties.created, book.properties.modified = "Sparebench", _EARLIEST, _EARLIEST
    stream = io.BytesIO()
    # Put together in memory: an archive that runs out of disk complains again when it is let go.
    ExcelWriter(book, _Timeless(stream, "w", zipfile.ZIP_DEFLATED)).save()
    path.write_bytes(stream.getvalue())


class _Timeless(zipfile.ZipFile):
    """An archive whose members bear no time of their own."""

    def writestr(self, name, data, *args, **kwargs):
        super().writestr(self._member(name), data)

    def write(self, filename, arcname, *args, **kwargs):
        with open(filename, "rb") as source, self.open(self._member(arcname), "w", force_zip64=True) as target:
            shutil.copyfileobj(source, target)

    @staticmethod
    def _member(name):
        member = zipfile.ZipInfo(name, _EARLIEST.timetuple()[:6])
        member.compress_type = zipfile.ZIP_DEFLATED
        return member
