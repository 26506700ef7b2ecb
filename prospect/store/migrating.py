"""Older records are brought up to this program's version, after a backup and in one transaction."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from prospect.errors import GroundError
from prospect.store.backups import back_up
from prospect.store.records_file import transaction
from prospect.store.schema import MIGRATIONS, Migration, set_version


class _DoneMeanwhile(Exception):
    pass


def upgrade(records: Path, migrations: Sequence[Migration] = MIGRATIONS) -> int:
    """Take every step that the records lack; return the version that they have then.

    Parameters
    ----------
    records
        A records file that was looked at.
    migrations
        The steps, by version from 2 on without a gap.

    Raises
    ------
    GroundError
        When the backup cannot be made or a step fails; the records have their old version then.
    """
    newest = migrations[-1].version
    try:
        backup = back_up(records, "upgrade")
        with transaction(records, "upgrade", _detail(migrations, backup.path.name)) as connection:
            row = connection.execute("SELECT value FROM settings WHERE key = 'schema_version'").fetchone()
            steps = [step for step in migrations if step.version > int(row[0])]
            if not steps:
                raise _DoneMeanwhile
            for step in steps:
                for item in step.statements:
                    if isinstance(item, str):
                        connection.execute(item)
                    else:
                        item(connection)
                connection.execute(set_version(step.version))
    except _DoneMeanwhile:
        return newest
    except GroundError as error:
        raise type(error)(f"{records.name} must be brought up to version {newest} first. {error}") from error
    return newest


def _detail(migrations: Sequence[Migration], backup: str) -> str:
    return json.dumps({"version": migrations[-1].version, "backup": backup})
